"""The white of every decal against its art: inside its shape by the choke, and all of it.

The shape is what a rendering of the decal's print alone covers, on nothing.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry.base import BaseGeometry

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.pdf_content import Key, Matrix, Unreadable, moved
from nestplan.check.pdf_pages import PdfFile, PdfPage, Placed, White
from nestplan.check.picture import form_cover
from nestplan.check.print_claims import Printed, page_file
from nestplan.check.said import Said, SaidWhite
from nestplan.figures import fixed

PER_MM = 16.0
SIDE_MOST_PX = 2_500.0
HALF = 128
SLACK_MM = 0.04
ODD_SHARE = 0.01  # of the places looked at; less are steps of pixels
PLACES_MOST = 20_000
SAME_SHARE = 1e-3
LAYERS = {
    "White under the art": "under",
    "White over the art": "over",
    "White between two prints of the art": "between",
}


def wanted_white(said: Said, decal: int) -> SaidWhite | None:
    """Order and choke that the job asks of a decal (from 1); area is not asked."""
    job = said.inputs.job
    order, choke = job.white, job.white_choke_mm
    if decal <= len(job.decal):
        own = job.decal[decal - 1]
        order = order if own.white is None else own.white
        choke = choke if own.white_choke_mm is None else own.white_choke_mm
    return None if order == "none" else SaidWhite(order=order, choke_mm=choke, area_mm2=0.0)


def run_order(said: Said) -> str:
    """The order of inks that the job asks; none where no decal has white."""
    found = (wanted_white(said, k) for k in range(1, len(said.decals) + 1))
    return next((each.order for each in found if each is not None), "none")


def own_whites(
    said: Said, file: PdfFile, page: PdfPage, printed: Sequence[Printed]
) -> Mapping[int, Printed]:
    """Which white of a page, by its place in the list, is that of which copy."""
    pairs = [pair for pair in printed if wanted_white(said, pair.copy.key[0]) is not None]
    outlines = [moved(pair.placed.picture.outline, pair.placed.matrix) for pair in pairs]
    tree = shapely.STRtree(outlines)
    own = {}
    for k, white in enumerate(page.whites):
        if _layer(file, white)[0] not in LAYERS:
            continue
        for j in tree.query(white.shape).tolist():
            if 2 * white.shape.intersection(outlines[j]).area > white.shape.area:
                own[k] = pairs[j]
    return own


def white_art_claims(
    said: Said, file: PdfFile, pages: Sequence[PdfPage], pairs: Sequence[Printed]
) -> list[Claim]:
    """White of art where the job asks for it; no claims where it asks for none.

    raises: Unreadable.
    """
    against: list[Finding] = []
    held: dict[tuple[str, str, str], None] = {}
    first: dict[tuple[int, Key], BaseGeometry] = {}
    areas: dict[int, list[float]] = defaultdict(list)
    if run_order(said) == "none":
        return []
    for page in pages:
        printed = [pair for pair in pairs if pair.page == page.number]
        shapes: dict[tuple[int, int], list[White]] = defaultdict(list)
        for k, pair in own_whites(said, file, page, printed).items():
            shapes[pair.copy.key].append(page.whites[k])
        for pair in printed:
            decal, copy = pair.copy.key
            wish = wanted_white(said, decal)
            if wish is None:
                continue
            where = f"{page_file(page)}, {said.copy_name(decal, copy)}"
            whites = shapes[pair.copy.key]
            for white in whites:
                held |= dict.fromkeys(
                    (page_file(page), *words) for words in _odd(file, white, wish)
                )
            back = _inverse(pair.placed.matrix)
            shape = shapely.union_all([moved(white.shape, back) for white in whites])
            key = decal, pair.placed.picture.form.key
            areas[decal].append(shape.area)
            if key not in first:
                first[key] = shape
                found = _against_art(file, pair.placed, shape, wish.choke_mm)
            else:
                other = shape.symmetric_difference(first[key]).area
                same = other <= max(SAME_SHARE * first[key].area, 0.05)
                found = "" if same else f"white that differs on {fixed(other, 1)} mm² from others'"
            if found:
                meant = f"white {fixed(wish.choke_mm, 2)} mm inside the art's shape"
                against.append(Finding(kind=Kind.WHITE_ART, where=where, found=found, meant=meant))
    against += _figures(said, areas)
    says = "the white of every copy lies inside its art by the choke, and leaves none of it out"
    how = "white of the art lies in a layer that says its order among the inks, and multiplies"
    layers = [
        Finding(kind=Kind.LAYER_WRONG, where=where, found=found, meant=meant)
        for where, found, meant in held
    ]
    return [Claim(says=says, against=tuple(against)), Claim(says=how, against=tuple(layers))]


def _figures(said: Said, areas: Mapping[int, Sequence[float]]) -> list[Finding]:
    """What the summary says of white against the job and what was printed."""
    against = []

    def wrong(decal: int, found: str, meant: str) -> None:
        where = f"summary.json: decals, {said.name(decal)}, white"
        against.append(Finding(kind=Kind.WHITE_ART, where=where, found=found, meant=meant))

    for decal, each in enumerate(said.decals, start=1):
        wish, told = wanted_white(said, decal), each.white
        words = [
            "none" if one is None else f"{one.order}, choked {fixed(one.choke_mm, 3)} mm"
            for one in (told, wish)
        ]
        if words[0] != words[1]:
            wrong(decal, words[0], words[1])
        elif told is not None and areas.get(decal):
            seen = float(np.mean(areas[decal]))
            if abs(seen - told.area_mm2) > max(0.01 * seen, 0.5):
                wrong(decal, f"{fixed(told.area_mm2, 1)} mm²", f"{fixed(seen, 1)} mm² printed")
    return against


def _layer(file: PdfFile, white: White) -> tuple[str, tuple[str, str], bool]:
    layer = file.layers.get(white.layer) if white.layer is not None else None
    return ("", ("", ""), False) if layer is None else (layer.name, layer.step, layer.shown)


def _odd(file: PdfFile, white: White, wish: SaidWhite) -> list[tuple[str, str]]:
    """What is wrong with how white is printed: what was found, and what was meant."""
    name, step, shown = _layer(file, white)
    odd = []
    if LAYERS.get(name) != wish.order:
        odd.append((f"white in the layer {name!r}", f"white {wish.order}"))
    if step[0] != "White":
        odd.append((f"{name!r} carries no step for white", "group White"))
    if not shown:
        odd.append((f"the layer {name!r} is off", "on: it is printed"))
    if not white.whole:
        odd.append(("white that changes the art below it", "it multiplies, without overprint"))
    return odd


def _against_art(file: PdfFile, placed: Placed, white: BaseGeometry, choke_mm: float) -> str:
    """What is wrong with the white of a picture, in its own units; empty: nothing."""
    picture = placed.picture
    left, bottom, right, top = (float(value) for value in picture.outline.bounds)
    box = left - 1.0, bottom - 1.0, right + 1.0, top + 1.0
    per_mm = min(PER_MM, SIDE_MOST_PX / max(box[2] - box[0], box[3] - box[1]))
    cover = form_cover(file.data, picture.form.key, _inverse(picture.form.matrix), box, per_mm)
    art = cover >= HALF
    tall, wide = art.shape
    step = (box[2] - box[0]) / wide, (box[3] - box[1]) / tall
    inside: NDArray[np.float64] = distance_transform_edt(art, sampling=(step[1], step[0]))
    outside: NDArray[np.float64] = distance_transform_edt(~art, sampling=(step[1], step[0]))
    depth = inside - outside
    slack = SLACK_MM + 1.5 * max(step) + picture.pixel
    if not white.is_empty:
        edge = shapely.segmentize(white.boundary, max(0.2, white.length / PLACES_MOST))
        places = shapely.get_coordinates(edge)
        rows = np.clip(((box[3] - places[:, 1]) / step[1]).astype(int), 0, tall - 1)
        columns = np.clip(((places[:, 0] - box[0]) / step[0]).astype(int), 0, wide - 1)
        beyond = choke_mm - depth[rows, columns]
        if float((beyond > slack).mean()) > ODD_SHARE:
            return f"white up to {fixed(float(beyond.max()), 2)} mm too far out"
    rows, columns = np.nonzero(inside > choke_mm + slack)
    every = max(1, len(rows) // PLACES_MOST)
    rows, columns = rows[::every], columns[::every]
    if len(rows):
        x, y = box[0] + (columns + 0.5) * step[0], box[3] - (rows + 0.5) * step[1]
        shapely.prepare(white)
        bare = ~shapely.contains_xy(white, x, y)
        if float(bare.mean()) > ODD_SHARE:
            return f"no white on {fixed(100 * float(bare.mean()), 1)} % of the art's shape"
    return ""


def _inverse(matrix: Matrix) -> Matrix:
    linear = matrix[:2]
    if abs(float(np.linalg.det(linear))) < 1e-12:
        raise Unreadable("a form without size")
    back = np.linalg.inv(linear)
    return np.vstack([back, -matrix[2] @ back])
