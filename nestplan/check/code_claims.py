"""The code of every frame, read off the rendered page by a decoder that wrote none of it."""

from collections.abc import Mapping, Sequence
from math import ceil

import numpy as np
import shapely
import zxingcpp
from PIL import Image
from shapely.geometry.base import BaseGeometry

from nestplan.check.code_shape import is_code
from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.outlines import SAME_MM
from nestplan.check.pdf_pages import PdfFile, PdfPage
from nestplan.check.picture import Rendered, opened, page_of
from nestplan.check.print_claims import Printed, page_file
from nestplan.check.print_page_claims import in_the_way
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import place

PIXELS = 10.0  # a module: what a scan of 500 an inch has of a half millimetre
QUIET = 4  # modules all round: ISO/IEC 18004, 5.3.8
QR = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


def code_claims(
    said: Said,
    file: PdfFile,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    pairs: Sequence[Printed],
    moves: Mapping[int, Together],
) -> list[Claim]:
    """Each frame's code says plan, frame and job, and stands on blank film. raises: Unreadable.

    moves: how a page (by number) is moved as a whole; that is said elsewhere.
    """
    against: list[Finding] = []
    with opened(file.data) as document:
        for frame, page, layer in zip(said.frames, pages, layers, strict=False):
            seen = [shape for shape, _ in page.fills if is_code(shape)]
            if page.odd or (frame.code is None and not seen):
                continue
            printed = [pair for pair in pairs if pair.page == page.number]
            taken = in_the_way(said, frame, layer, printed)
            together = moves.get(page.number, UNMOVED)
            with page_of(document, page.number, page.width_mm, page.length_mm) as rendered:
                against += _codes(said, frame, page, rendered, seen, together, taken)
    says = "every frame's code is read off the picture and names plan, frame and job"
    coded = any(frame.code is not None for frame in said.frames)
    return [Claim(says=says, against=tuple(against))] if coded or against else []


def _codes(
    said: Said,
    frame: SaidFrame,
    page: PdfPage,
    rendered: Rendered,
    seen: Sequence[BaseGeometry],
    together: Together,
    taken: "np.ndarray[tuple[int], np.dtype[np.object_]]",
) -> list[Finding]:
    against = []
    where = f"{page_file(page)}, code"

    def wrong(found: str, meant: str) -> None:
        against.append(Finding(kind=Kind.CODE_WRONG, where=where, found=found, meant=meant))

    if frame.code is None or len(seen) != 1:
        wrong(f"{len(seen)} codes", "none" if frame.code is None else "one")
        return against
    (shape,) = seen
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    corners = np.array(shape.bounds).reshape(2, 2) + origin
    found = corners if together is UNMOVED else together.back(corners)
    words = _read(rendered, shape, frame.code.side_mm)
    head = f"nestplan {said.plan} {frame.index}/{len(said.frames)} "
    if words is None:
        wrong("no code that can be read", f"a code that says {head.strip()!r}")
    elif not words.startswith(head) or not _named(words.removeprefix(head), said.job):
        wrong(f"it says {words!r}", f"{head.strip()!r} and the job's name")
    side = frame.code.side_mm
    module = side / _modules(shape, side)
    low = np.array([frame.code.x_mm, frame.code.y_mm]) + QUIET * module
    if np.abs(found - np.array([low, low + side - 2 * QUIET * module])).max() > 2 * SAME_MM:
        wrong(f"at {place(*found[0].tolist())}", f"at {place(*low.tolist())}")
    quiet = shapely.box(*shape.bounds).buffer(QUIET * module - SAME_MM, join_style="mitre")
    if bool(shapely.intersects(quiet, taken).any()):
        wrong("a decal or a mark's clear zone reaches into it or its quiet zone", "blank film")
    if not shapely.box(0, 0, page.width_mm, page.length_mm).covers(quiet):
        wrong("its quiet zone leaves the page", "inside it")
    return against


def _modules(shape: BaseGeometry, side_mm: float) -> int:
    """How many modules the side with quiet zones has: a code of version v has 17 + 4 v."""
    left, _, right, _ = shape.bounds
    inner = min((right - left) / side_mm, 0.95)
    return round(2 * QUIET / (1 - inner))


def _read(rendered: Rendered, shape: BaseGeometry, side_mm: float) -> str | None:
    """What a decoder finds in the picture of a code with the film round it."""
    left, bottom, right, top = shape.bounds
    around = (side_mm - (right - left)) / 2
    window = rendered.window(
        (left - around, bottom - around, right + around, top + around), PIXELS * 37 / side_mm
    )
    image = Image.fromarray(np.ascontiguousarray(window.pixels[..., :3]).mean(axis=2).astype("u1"))
    edge = ceil(max(image.size) / 20)  # white all round, as film is
    framed = Image.new("L", (image.width + 2 * edge, image.height + 2 * edge), 255)
    framed.paste(image, (edge, edge))
    read = zxingcpp.read_barcodes(
        framed, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    )
    return read[0].text if len(read) == 1 else None


def _named(words: str, job: str) -> bool:
    """Whether words are the job's name, or as much of it as a code holds."""
    return words == job or (len(words) >= 3 and _plain(job).startswith(_plain(words)))


def _plain(text: str) -> str:
    return "".join(text.split())
