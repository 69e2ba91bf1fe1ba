"""Numbered copies: each says what its row says, and no row is printed twice.

The words are read off the print as a reader would copy them, sign by sign, each given to
the copy in whose print its middle lies. Mirrored copies are read as they will be, in a mirror.
"""

import io
import unicodedata
from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import shapely
import shapely.affinity

from nestplan.check.cut_copy import Copy
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.pdf_pages import PdfFile, PdfPage
from nestplan.check.picture import opened
from nestplan.check.said import SUMMARY, Said
from nestplan.figures import count

RIGHT_TO_LEFT = {"R", "AL"}
SHOWN_MOST = 40  # characters of what was read

Key = tuple[int, int]  # decal and copy, both from 1


def row_claims(
    said: Said, file: PdfFile | None, pages: Sequence[PdfPage], copies: Sequence[Copy]
) -> list[Claim]:
    """Nothing where no decal has rows. file: the print, if it can be read. raises: Unreadable."""
    if not any(decal.rows for decal in said.decals):
        return []
    meant, against = _meant(said)
    claims = [Claim(says="every row has one copy, and every copy its row", against=tuple(against))]
    if file is None:
        return claims
    wrong: list[Finding] = []
    for mirrored in (False, True):
        these = [copy for copy in copies if copy.key in meant and copy.pose.mirrored == mirrored]
        if these:
            data = _in_a_mirror(file.data) if mirrored else file.data
            wrong += _misread(said, data, pages, these, meant)
    says = f"{count(len(meant), 'copy', 'copies')} can be read: each says what its row says"
    return [*claims, Claim(says=says, against=tuple(wrong))]


def _misread(
    said: Said,
    data: bytes,
    pages: Sequence[PdfPage],
    copies: Sequence[Copy],
    meant: Mapping[Key, Sequence[str]],
) -> list[Finding]:
    """Copies that do not say what is meant; data is the print, or the print in a mirror."""
    wrong = []
    with opened(data) as document:
        for page in pages:
            frame = said.frames[page.number - 1]
            here = [copy for copy in copies if copy.frame == frame.index]
            if here:
                origin = np.array([said.page_x0_mm, frame.y0_mm])
                read = _read(document[page.number - 1], page.unit_mm, here, origin)
                for copy in here:
                    wrong += _wrong(said, page, copy.key, meant[copy.key], read[copy.key])
    return wrong


def _in_a_mirror(data: bytes) -> bytes:
    """The print with x of every page counted to the left, so that what was mirrored reads right."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            page.contents_add(b"q -1 0 0 1 0 0 cm", prepend=True)
            page.contents_add(b"Q")
            left, bottom, right, top = (float(value) for value in page.mediabox)
            page.mediabox = pikepdf.Array([-right, bottom, -left, top])
            if "/CropBox" in page:
                del page["/CropBox"]
        held = io.BytesIO()
        pdf.save(held)
    return held.getvalue()


def _meant(said: Said) -> tuple[dict[Key, list[str]], list[Finding]]:
    """The values of every numbered copy, and rows that are not where they should be."""
    meant: dict[Key, list[str]] = {}
    used: dict[int, list[int]] = defaultdict(list)
    against = []
    for frame in said.frames:
        for place in frame.placements:
            rows = said.decals[place.decal - 1].rows
            row = place.row or 0
            if rows and 1 <= row <= len(rows):
                meant[place.decal, place.copy_] = list(rows[row - 1].values())
                used[place.decal].append(row)
            elif rows or place.row is not None:
                found = "no row" if place.row is None else f"row {place.row}"
                against.append(
                    Finding(
                        kind=Kind.ROW_WRONG,
                        where=f"{SUMMARY}: {said.copy_name(place.decal, place.copy_)}",
                        found=found,
                        meant=f"one of {count(len(rows), 'row')}",
                    )
                )
    for number, decal in enumerate(said.decals, start=1):
        missing = sorted(set(range(1, len(decal.rows) + 1)) - set(used[number]))
        twice = sorted({row for row in used[number] if used[number].count(row) > 1})
        for words, rows_wrong in (("no copy", missing), ("two copies", twice)):
            for row in rows_wrong[:20]:
                where = f"{SUMMARY}: {said.name(number)}, row {row}"
                against.append(
                    Finding(kind=Kind.ROW_WRONG, where=where, found=words, meant="one copy")
                )
    return meant, against


def _read(
    page: pypdfium2.PdfPage, unit_mm: float, copies: Sequence[Copy], origin: np.ndarray
) -> dict[Key, str]:
    """The signs in each copy's print, in the order in which they are set.

    The copies are all mirrored, and the page with them, or none is.
    """
    side = -1.0 if copies[0].pose.mirrored else 1.0
    text = page.get_textpage()
    signs, middles = [], []
    for k in range(text.count_chars()):
        left, bottom, right, top = text.get_charbox(k)
        signs.append(chr(pdfium.FPDFText_GetUnicode(text, k)))
        middles.append((side * (left + right) / 2 * unit_mm, (bottom + top) / 2 * unit_mm))
    prints = [
        shapely.affinity.translate(
            shapely.transform(copy.contour.bled, copy.pose.put), -origin[0], -origin[1]
        )
        for copy in copies
    ]
    said: dict[Key, str] = defaultdict(str)
    if not signs:
        return said
    tree = shapely.STRtree(prints)
    which, whose = tree.query(shapely.points(np.array(middles)), predicate="within")
    for k, i in sorted(zip(which.tolist(), whose.tolist(), strict=True)):
        said[copies[i].key] += signs[k]
    return said


def _wrong(said: Said, page: PdfPage, key: Key, values: Sequence[str], read: str) -> list[Finding]:
    if _says(read, values):
        return []
    found = " ".join(read.split())
    short = found if len(found) <= SHOWN_MOST else f"{found[:SHOWN_MOST]}…"
    return [
        Finding(
            kind=Kind.PRINT_ROW,
            where=f"print.pdf, page {page.number}, {said.copy_name(*key)}",
            found=f"{short!r}" if short else "no words",
            meant=", ".join(repr(value) for value in values),
        )
    ]


def _says(read: str, values: Sequence[str]) -> bool:
    """Whether the words are the values and nothing but them, spaces and ligatures apart."""
    rest, parts = _plain(read), sorted(map(_plain, values), key=len, reverse=True)
    if any(unicodedata.bidirectional(sign) in RIGHT_TO_LEFT for part in parts for sign in part):
        return sorted(rest) == sorted("".join(parts))
    for part in parts:
        if part not in rest:
            return False
        rest = rest.replace(part, "\0")
    return not rest.strip("\0")


def _plain(text: str) -> str:
    return "".join(unicodedata.normalize("NFKC", text).split())
