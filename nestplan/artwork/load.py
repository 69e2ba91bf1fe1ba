"""Every decal of a job: its file found, read, scaled and centred; all faults together."""

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import shapely

from nestplan.artwork.art import Art, Box
from nestplan.artwork.art_faults.find import art_faults
from nestplan.artwork.art_faults.subject import Subject
from nestplan.artwork.backing import backing_of
from nestplan.artwork.decal import Artwork, Decal, Picture
from nestplan.artwork.document import open_document
from nestplan.artwork.find import find_file, read_file
from nestplan.artwork.made_bleed.sectors import TooIntricate
from nestplan.artwork.made_bleed.wish import BleedWish
from nestplan.artwork.make import making_of
from nestplan.artwork.picture_dpi import picture_dpi
from nestplan.artwork.raster import open_raster
from nestplan.artwork.remnant import load_remnant
from nestplan.artwork.row_art import open_row_art
from nestplan.artwork.rows import Rows, rows_of
from nestplan.artwork.rule import Rule
from nestplan.artwork.size import Sized, at_ordered_size
from nestplan.artwork.vector import open_vector
from nestplan.artwork.white import with_white
from nestplan.faults import OUT_OF_REACH, Fault, Faults, Note, raise_all
from nestplan.figures import count, fixed
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import FLATTEN_MM, outline_of
from nestplan.job import DecalOrder, Job, white_of
from nestplan.job.job_file import SIZE_MOST_MM

POINTS_MOST = 50_000  # of a contour; a nest of more would not end today
OPEN: dict[str, Callable[[bytes, str], Art]] = {
    ".svg": open_vector,
    ".pdf": open_document,
    **dict.fromkeys((".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp"), open_raster),
}


def load_artwork(job: Job) -> Artwork:
    """Read the artwork of every decal in the job.

    Same files and orders give the same bytes. raises: Fault, or Faults for all decals.
    """
    decals: list[Decal] = []
    notes: list[Note] = []
    faults: list[Fault] = []
    all_mirrored = job.order.mirrored and all(one.mirrored is not False for one in job.order.decal)
    if all_mirrored:
        text = "all decals are printed and cut mirrored: they read right through the film"
        notes.append(Note(level="know", where=f"{job.path.name}, mirrored", text=text))
    for k, order in enumerate(job.order.decal, start=1):
        where = f'{job.path.name}, [[decal]] {k} "{order.name}"'
        try:
            decal, found = _decal(job, order, where)
            decal, more = with_white(decal, *white_of(job.order, order), where)
            found += more
            if order.mirrored if order.mirrored is not None else job.order.mirrored:
                decal = decal.turned_over()
                if not all_mirrored:
                    text = "printed and cut mirrored: it reads right through the film"
                    found.append(Note(level="know", where=where, text=text))
            decals.append(decal)
            notes += found
        except Fault as fault:
            faults.append(fault)
        except Faults as several:
            faults += several.each
    notes += _for_nobody(job)
    remnant = None
    try:
        if job.order.start_on is not None:
            remnant, found = load_remnant(job, job.order.start_on)
            notes += found
    except Fault as fault:
        faults.append(fault)
    except Faults as several:
        faults += several.each
    raise_all(faults)
    return Artwork(decals=tuple(decals), notes=tuple(dict.fromkeys(notes)), remnant=remnant)


def _for_nobody(job: Job) -> list[Note]:
    """Decals on no packing slip, where others are on one."""
    without = [order.name for order in job.order.decal if order.recipient is None]
    if not without or len(without) == len(job.order.decal):
        return []
    text = f"on no packing slip, for no recipient is named: {', '.join(without)}"
    return [Note(level="know", where=f"{job.path.name}, for", text=text)]


def _decal(job: Job, order: DecalOrder, where: str) -> tuple[Decal, list[Note]]:
    """One decal, and what a person should know of it."""
    kind = Path(order.artwork).suffix.lower()
    if kind not in OPEN:
        raise Fault(
            what=f"artwork {order.artwork!r} is none of {', '.join(OPEN)}",
            where=f"{where}, artwork",
            do="export it as PDF, as SVG with text as outlines, or as PNG with transparency",
        )
    path = find_file(job.folder, order.artwork, OPEN, where=f"{where}, artwork")
    data = read_file(path, order.artwork)
    numbered = open_row_art(data, order.artwork, job.folder) if order.rows is not None else None
    art = numbered.shared if numbered is not None else OPEN[kind](data, order.artwork)
    making = making_of(order)
    rule = making.rule
    sized = at_ordered_size(art, making, order, where)
    _refuse_vast(art, sized.mm_per_px, where)
    region, thinned = _few_points(sized.region, order.artwork)
    around, told = region, list[Note]()
    if order.backing is not None:
        found = backing_of(region, order.backing, order.least_radius_mm, where)
        around, more = _few_points(found.region, order.artwork)
        told = [*found.notes, *more]
    left, bottom, right, top = shapely.bounds(around).tolist()
    centre = ((left + right) / 2, (bottom + top) / 2)
    contour = outline_of(region).moved(-centre[0], -centre[1])
    reach = shapely.bounds(region) + np.array([-1, -1, 1, 1]) * order.bleed_mm
    pdf, box, bled = _picture(art, rule, sized, order, tuple(reach.tolist()))
    picture = Picture(pdf=pdf, box_mm=_moved(box, centre))
    inked = grown(contour.region, order.bleed_mm) if order.bleed_mm > 0 else contour.region
    coarsest = picture_dpi(picture, inked)
    faults = art_faults(
        Subject(
            where=where,
            source=order.artwork,
            contour=contour,
            bleed_mm=order.bleed_mm,
            picture=picture,
            printed=[
                each.moved(-centre[0], -centre[1]) for each in art.printed(rule, sized.mm_per_px)
            ],
            drawn=[
                each.moved(-centre[0], -centre[1]) for each in art.trails(rule, sized.mm_per_px)
            ],
            ink_limit_percent=job.printer.ink_limit_percent if job.printer else None,
            bleed_made=order.make_bleed != "none",
            wants_cmyk=bool(job.printer) and job.printer.art_colour == "cmyk",
            **({"least_dpi": job.printer.least_dpi} if job.printer else {}),
            picture_dpi=coarsest,
        )
    )
    notes = [
        *art.notes(sized.mm_per_px, order.width_mm is not None or order.height_mm is not None),
        *sized.notes,
        *thinned,
        *bled,
        *told,
        *(fault.note for fault in faults),
    ]
    rows = Rows(quantity=order.quantity or 0)
    if numbered is not None:
        rows = rows_of(numbered, job.folder, order, contour, box, centre, sized.mm_per_px, where)
        notes += rows.notes
    decal = Decal(
        name=order.name,
        quantity=rows.quantity,
        contour=contour,
        picture=picture,
        cut=order.cut,
        bleed_mm=order.bleed_mm,
        rotate=order.rotate,
        source=order.artwork,
        digest=hashlib.sha256(data).hexdigest(),
        direction=order.direction,
        keep_together=order.keep_together,
        faults=faults,
        picture_dpi=coarsest,
        rows=rows.each,
        row_table=rows.table,
        recipient=order.recipient,
        backing=None if order.backing is None else outline_of(around).moved(-centre[0], -centre[1]),
    )
    return decal, notes


def _picture(
    art: Art, rule: Rule, sized: Sized, order: DecalOrder, reach_mm: Box
) -> tuple[bytes, Box, Sequence[Note]]:
    """The picture with bleed as the order wants it, where it lies, and what was made."""
    if order.make_bleed == "none" or order.bleed_mm <= 0:
        return *art.picture(rule, sized.mm_per_px, reach_mm), ()
    wish = BleedWish(contour=sized.region, reach_mm=order.bleed_mm, how=order.make_bleed)
    try:
        made = art.bled_picture(rule, sized.mm_per_px, reach_mm, wish)
    except (TooIntricate, shapely.errors.GEOSException):  # the library itself may give up
        text = "its edge is too intricate for bleed to be made: draw the art on beyond the contour"
        note = Note(level="look", where=order.artwork, text=text)
        return *art.picture(rule, sized.mm_per_px, reach_mm), [note]
    return made.pdf, made.box_mm, made.notes


def _refuse_vast(art: Art, mm_per_px: float, where: str) -> None:
    """A decal far smaller than the page it is drawn on was drawn on the wrong page."""
    side_mm = max(art.page_px) * mm_per_px
    if side_mm > SIZE_MOST_MM:
        raise Fault(
            what=f"at this size its page would be {fixed(side_mm / 1000)} m wide or high: the "
            "contour is only a dot on it",
            where=where,
            do=f"check width_mm and the contour, or draw it on a page of its own: {art.source}",
        )


def _few_points(region: shapely.Geometry, source: str) -> tuple[shapely.Geometry, Sequence[Note]]:
    """A contour no nest would choke on; thinned by no more than curves are flattened."""
    found = int(shapely.get_num_coordinates(region))
    if found <= POINTS_MOST:
        return region, ()
    thin = shapely.simplify(region, FLATTEN_MM)
    left = int(shapely.get_num_coordinates(thin))
    if left > POINTS_MOST:
        raise Fault(
            what=f"the contour has {left} points, even when thinned by {FLATTEN_MM:g} mm; at most "
            f"{POINTS_MOST} can be nested",
            where=source,
            do="smooth its edge, or take contour = 'offset:2.0'",
            code=OUT_OF_REACH,
        )
    text = f"the contour was thinned by {FLATTEN_MM:g} mm, from {found} to {count(left, 'point')}"
    return thin, [Note(level="know", where=source, text=text)]


def _moved(
    box: tuple[float, float, float, float], centre: tuple[float, float]
) -> tuple[float, float, float, float]:
    left, bottom, right, top = box
    x, y = centre
    return left - x, bottom - y, right - x, top - y
