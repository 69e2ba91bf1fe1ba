"""Numbered copies: each says what its row says, and no row is printed twice.

The words are read off the print as a reader would copy them, sign by sign. Each copy's picture
is looked at alone and upright, and only where it can put ink: what a wide text says beyond
that is not printed, and is no word of a neighbour's.
"""

import io
import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import pikepdf
import pypdfium2.raw as pdfium
import shapely

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.pdf_content import BROKEN, Key, Unreadable
from nestplan.check.pdf_pages import PdfFile, Picture
from nestplan.check.picture import opened
from nestplan.check.print_claims import Printed
from nestplan.check.said import SUMMARY, Said
from nestplan.figures import count

RIGHT_TO_LEFT = {"R", "AL"}
SHOWN_MOST = 40  # characters of what was read
SIDE_PT = 1000.0  # longer side of the page on which a picture is read

Copy = tuple[int, int]  # decal and copy, both from 1


def row_claims(said: Said, file: PdfFile, pairs: Sequence[Printed]) -> list[Claim]:
    """Nothing where no decal has rows. file: the print. raises: Unreadable."""
    if not any(decal.rows for decal in said.decals):
        return []
    meant, against = _meant(said)
    claims = [Claim(says="every row has one copy, and every copy its row", against=tuple(against))]
    numbered = [pair for pair in pairs if pair.copy.key in meant]
    pictures = {pair.placed.picture.form.key: pair.placed.picture for pair in numbered}
    read = dict(zip(pictures, _read(file.data, list(pictures.values())), strict=True))
    wrong: list[Finding] = []
    for pair in numbered:
        key = pair.copy.key
        wrong += _wrong(said, pair.page, key, meant[key], read[pair.placed.picture.form.key])
    says = f"{count(len(meant), 'copy', 'copies')} can be read: each says what its row says"
    return [*claims, Claim(says=says, against=tuple(wrong))]


def _meant(said: Said) -> tuple[dict[Copy, list[str]], list[Finding]]:
    """The values of every numbered copy, and rows that are not where they should be."""
    meant: dict[Copy, list[str]] = {}
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
        wanted = decal.wanted(len(decal.rows)) if decal.rows else set()
        missing = sorted(wanted - set(used[number]))
        twice = sorted({row for row in used[number] if used[number].count(row) > 1})
        for words, rows_wrong in (("no copy", missing), ("two copies", twice)):
            for row in rows_wrong[:20]:
                where = f"{SUMMARY}: {said.name(number)}, row {row}"
                against.append(
                    Finding(kind=Kind.ROW_WRONG, where=where, found=words, meant="one copy")
                )
    return meant, against


def _read(data: bytes, pictures: Sequence[Picture]) -> Iterator[str]:
    """The signs that each picture shows, in the order in which they are set."""
    if not pictures:
        return
    with opened(_apart(data, [picture.form.key for picture in pictures])) as document:
        for k, picture in enumerate(pictures):
            page = document[k]
            text = page.get_textpage()
            left, bottom, right, top = picture.form.box
            unit = max(right - left, top - bottom) / SIDE_PT
            signs, middles = [], []
            for at in range(text.count_chars()):
                x0, y0, x1, y1 = text.get_charbox(at)
                signs.append(chr(pdfium.FPDFText_GetUnicode(text, at)))
                middles.append((left + (x0 + x1) / 2 * unit, bottom + (y0 + y1) / 2 * unit))
            text.close()
            page.close()
            places = np.array(middles).reshape(-1, 2)
            shapely.prepare(picture.outline)
            seen = shapely.contains_xy(picture.outline, places)
            yield "".join(sign for sign, here in zip(signs, seen.tolist(), strict=True) if here)


def _apart(data: bytes, keys: Sequence[Key]) -> bytes:
    """A document with a page a form: nothing else on it, its own matrix undone."""
    try:
        with pikepdf.open(io.BytesIO(data)) as source, pikepdf.new() as alone:
            for key in keys:
                form = alone.copy_foreign(source.get_object(key))
                left, bottom, right, top = (float(value) for value in form.BBox)
                scale = SIDE_PT / max(right - left, top - bottom)
                size = (right - left) * scale, (top - bottom) * scale
                page = alone.add_blank_page(page_size=(max(size[0], 3.0), max(size[1], 3.0)))
                if "/Matrix" in form:
                    del form.Matrix
                page.obj.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(F=form))
                moved = f"{-left * scale:.6f} {-bottom * scale:.6f}"
                page.obj.Contents = alone.make_stream(
                    f"q {scale:.9f} 0 0 {scale:.9f} {moved} cm /F Do Q".encode()
                )
            held = io.BytesIO()
            alone.save(held)
    except BROKEN as error:
        raise Unreadable(str(error)) from error
    return held.getvalue()


def _wrong(said: Said, page: int, key: Copy, values: Sequence[str], read: str) -> list[Finding]:
    if _says(read, values):
        return []
    found = " ".join(read.split())
    short = found if len(found) <= SHOWN_MOST else f"{found[:SHOWN_MOST]}…"
    return [
        Finding(
            kind=Kind.PRINT_ROW,
            where=f"print.pdf, page {page}, {said.copy_name(*key)}",
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
