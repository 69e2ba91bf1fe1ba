"""What is printed for a decal against its artwork's own file, rendered by a stranger.

Nothing of the plan says how the art lies in its decal: print and artwork are laid on each
other by their looks, at one scale and one shift, and must then look alike inside the
contour. So art that print and proof carry alike is still found where it is not the decal's.
"""

import hashlib
import io
from collections.abc import Iterator, Sequence
from math import ceil

import numpy as np
import pikepdf
import shapely
from PIL import Image, ImageFilter

from nestplan.check.copy_looks import upright
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.job_files import JobFiles
from nestplan.check.laid_on import Lay, Mask, Picture, laid, refined, tried
from nestplan.check.looks import TOLERANCE, blurred
from nestplan.check.outlines import Contour
from nestplan.check.pairing import Judge
from nestplan.check.pdf_content import BROKEN, Unreadable
from nestplan.check.pdf_pages import PdfFile
from nestplan.check.pdf_pages import Picture as PdfPicture
from nestplan.check.picture import form_alone
from nestplan.check.print_claims import Printed, usual_pictures
from nestplan.check.said import Said
from nestplan.check.source_picture import LONG_MOST_PX, LONG_PX, Render, Unseen, renderer
from nestplan.figures import count, fixed

PER_MM, LONGEST_PX = 4.0, 500  # of the print of a decal
EDGE_MM, EDGE_PX = 0.75, 2.0  # along the contour: the art may draw its cut line there
ROUND_PX = 2  # how far an edge of two renderers may lie apart, bending apart
ALLOWED_MM2, ALLOWED_SHARE = 1.0, 0.0002
ALLOWED_PLACES = 12
SCALES = np.geomspace(0.5, 10.0, 64)  # the art's page over the decal's print
CLOSE_OFF, NEARLY = 2.0, 1.5  # of 255, and of the best: lays that are worse are not bent


def source_claims(
    said: Said, files: JobFiles, judge: Judge, file: PdfFile, pairs: Sequence[Printed]
) -> list[Claim]:
    """Decals whose artwork is still the file they were planned from. raises: Unreadable."""
    pictures = {pair.copy.key[0]: pair.placed.picture for pair in reversed(pairs)}
    by_key = {pair.placed.picture.form.key: pair.placed.picture for pair in pairs}
    pictures |= {number: by_key[key] for number, key in usual_pictures(pairs).items()}
    against: list[Finding] = []
    looked = 0
    for number, picture in sorted(pictures.items()):
        order = said.inputs.job.decal[number - 1 : number]
        path = order[0].artwork if order else ""
        data = files.read(path) if path else None
        if data is None or hashlib.sha256(data).hexdigest() != said.inputs.art.get(path):
            continue  # said elsewhere
        try:
            render = renderer(data, path, order[0].contour)
            words = bool(said.decals[number - 1].rows)
            against += _unlike(said, judge, file, number, picture, render, path, words)
            looked += 1
        except Unseen:
            continue
    if not looked:
        return []
    says = f"{count(looked, 'decal is', 'decals are')} printed as the artwork's own file shows"
    return [Claim(says=says, against=tuple(against))]


def _unlike(
    said: Said,
    judge: Judge,
    file: PdfFile,
    number: int,
    printed: PdfPicture,
    render: Render,
    path: str,
    words: bool,
) -> Iterator[Finding]:
    contour = judge.contours[number - 1]
    left, bottom, right, top = contour.region.bounds
    per_mm = min(PER_MM, LONGEST_PX / max(right - left, top - bottom))
    data = _without_words(file.data) if words else file.data
    box = left, top - ceil((top - bottom) * per_mm) / per_mm, right, top
    window = form_alone(data, printed.form.key, upright(judge, printed, number), box, per_mm)
    model = np.asarray(window.image(), dtype=np.float32)
    x, y = window.places()
    where = _inside(contour, (x + box[0], y + box[1]), per_mm)
    if not where.any():
        return
    differ = unlike_px(model, where, render)
    area = float(where.sum()) / per_mm**2
    found_mm2 = differ / per_mm**2
    allowed = max(ALLOWED_MM2, ALLOWED_SHARE * area, ALLOWED_PLACES / per_mm**2)
    if found_mm2 > allowed:
        yield Finding(
            kind=Kind.SOURCE_ART,
            where=f"print.pdf, {said.name(number)}",
            found=f"other art on {fixed(found_mm2, 1)} mm²",
            meant=f"the art of {path}",
        )


def unlike_px(model: Picture, where: Mask, render: Render) -> int:
    """On how many pixels a print and its art differ where they lie on each other best.

    model: (rows, columns, 3), the print; where: what of it counts.
    """
    picture = render(LONG_PX)
    base = max(picture.size) / max(model.shape[:2])
    best: tuple[int, Lay] | None = None
    for scales in ((base, *_by_ink(picture, model, where)), base * SCALES):
        lays = tried(picture, model, where, scales)
        for lay in (each for each in lays[:3] if each.off <= CLOSE_OFF + NEARLY * lays[0].off):
            differ, lay = _differ(picture, model, where, lay, render)
            if best is None or differ < best[0]:
                best = differ, lay
            if best[0] <= ALLOWED_PLACES:
                break
        if best is not None and best[0] <= ALLOWED_PLACES:
            break
    return int(where.sum()) if best is None else best[0]


def _by_ink(picture: Image.Image, model: Picture, where: Mask) -> list[float]:
    """Scales at which what is painted is as large in both."""
    inks = [(np.asarray(picture) < 250).any(axis=2), ((model < 250).any(axis=2)) & where]
    sizes = []
    for ink in inks:
        rows, columns = np.nonzero(ink)
        if not len(rows):
            return []
        sizes.append((np.ptp(columns) + 1, np.ptp(rows) + 1))
    return [float(a / b) for a, b in zip(*sizes, strict=True) if a / b < 40]


def _differ(
    picture: Image.Image, model: Picture, where: Mask, lay: Lay, render: Render
) -> tuple[int, Lay]:
    if lay.scale < 1:  # the decal is a small part of its page: look closer
        long_px = min(LONG_MOST_PX, ceil(max(picture.size) / lay.scale))
        closer = render(long_px)
        times = closer.width / picture.width
        lay = Lay(
            scale=lay.scale * times, column=lay.column * times, row=lay.row * times, off=lay.off
        )
        picture = closer
    lay = refined(picture, model, where, lay)
    over = laid(picture, (model.shape[0], model.shape[1]), lay)
    one, other = (Image.fromarray(each.clip(0, 255).astype(np.uint8)) for each in (model, over))
    unlike = _strays(one, other) | _strays(other, one)
    return int((unlike & where).sum()), lay


def _strays(one: Image.Image, other: Image.Image) -> Mask:
    """Where one has a colour that the other does not have near there."""
    soft, size = blurred(other), 2 * ROUND_PX + 1
    seen = np.asarray(blurred(one), dtype=np.int16)
    low, high = (
        np.asarray(soft.filter(each(size)), dtype=np.int16)
        for each in (ImageFilter.MinFilter, ImageFilter.MaxFilter)
    )
    stray = (seen < low - TOLERANCE) | (seen > high + TOLERANCE)
    return np.asarray(stray.any(axis=2))


def _inside(contour: Contour, places: tuple[np.ndarray, np.ndarray], per_mm: float) -> Mask:
    """Pixels inside the contour, its rim left out."""
    inside = shapely.buffer(contour.region, -max(EDGE_MM, EDGE_PX / per_mm), quad_segs=4)
    x, y = np.meshgrid(*places)
    shapely.prepare(inside)
    return np.asarray(shapely.contains_xy(inside, x, y))


def _without_words(data: bytes) -> bytes:
    """The document without text: what rows say is another one copy by copy."""
    try:
        with pikepdf.open(io.BytesIO(data)) as pdf:
            for each in pdf.objects:
                if isinstance(each, pikepdf.Stream) and each.get("/Subtype") == "/Form":
                    kept, inside = [], False
                    for step in pikepdf.parse_content_stream(each):
                        inside = inside or str(step.operator) == "BT"
                        if not inside:
                            kept.append(step)
                        inside = inside and str(step.operator) != "ET"
                    each.write(pikepdf.unparse_content_stream(kept))
            held = io.BytesIO()
            pdf.save(held)
            return held.getvalue()
    except BROKEN as error:
        raise Unreadable(str(error)) from error
