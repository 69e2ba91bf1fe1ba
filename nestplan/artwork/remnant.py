"""Film that is not whole: its outline, from a drawing in millimetres."""

import hashlib

import shapely

from nestplan.artwork.art import upright
from nestplan.artwork.decal import Remnant
from nestplan.artwork.find import find_file, read_file
from nestplan.artwork.rings import JOIN_MM, Ruler, Trail, ring_region
from nestplan.artwork.svg.drawing import Drawing, read_drawing
from nestplan.artwork.svg.units import MM_PER_PX
from nestplan.faults import OUT_OF_REACH, Fault, Faults, Note
from nestplan.figures import area, count, length
from nestplan.geometry.outline import FLATTEN_MM, outline_of, polygons_of
from nestplan.job import Job

KIND = ".svg"
LITTLE_MM2 = 1.0


def load_remnant(job: Job, named: str) -> tuple[Remnant, list[Note]]:
    """The film that `start_on` draws, in run coordinates, and what a person should know of it.

    The page's lower left corner is where the left edge of the film meets its leading edge.
    raises: Fault, Faults.
    """
    where = f"{job.path.name}, start_on"
    if not named.lower().endswith(KIND):
        raise Fault(
            what=f"start_on {named!r} is no {KIND}",
            where=where,
            do="draw the outline of the film as SVG, in mm",
        )
    data = read_file(find_file(job.folder, named, (KIND,), where=where), named)
    drawing = read_drawing(data, named)
    if not drawing.physical:
        raise Fault(
            what="the drawing of the film states no size in mm",
            where=named,
            do='give its page a width and height in mm: width="1370mm"',
        )
    region, notes = _region(drawing)
    _refuse_off_roll(region, job, named)
    width_mm = job.roll.width_mm
    on_roll = shapely.intersection(region, shapely.box(0, 0, width_mm, region.bounds[3]))
    remnant = Remnant(
        outline=outline_of(on_roll), source=named, digest=hashlib.sha256(data).hexdigest()
    )
    gone_mm2 = float(shapely.area(remnant.missing(width_mm)))
    text = (
        f"the run starts on a remnant: {area(gone_mm2)} are missing before "
        f"{length(remnant.end_mm)}, from there on the film is whole; its length is counted as that "
        "of whole film"
    )
    if gone_mm2 < LITTLE_MM2:
        text = "the drawn film lacks nothing: start_on can be left out"
    return remnant, [*notes, Note(level="know", where=named, text=text)]


def _region(drawing: Drawing) -> tuple[shapely.Polygon, list[Note]]:
    """The one area that the drawing's lines enclose, y up from the page's lower edge."""
    seen = [shape for shape in drawing.shapes if not shape.hidden]
    trails = [
        Trail(
            points=run.mapped(upright(MM_PER_PX) @ shape.matrix).flattened(FLATTEN_MM),
            closed=run.closed,
            where=shape.where,
        )
        for shape in seen
        for run in shape.path
    ]
    if not trails:
        raise Fault(
            what="the drawing of the film has no line",
            where=drawing.source,
            do="draw the outline of the film as one closed path",
        )
    try:
        region, notes = ring_region(trails, Ruler(own_per_mm=1.0), drawing.source)
    except Fault as fault:
        raise _of_film(fault) from None
    except Faults as faults:
        raise Faults([_of_film(fault) for fault in faults.each]) from None
    parts = list(polygons_of(region))
    if len(parts) != 1:
        raise Fault(
            what=f"the film is drawn as {count(len(parts), 'piece')} apart from each other",
            where=drawing.source,
            do="draw one piece of film: one closed outline, and holes in it",
        )
    height_mm = drawing.height_px * MM_PER_PX
    return shapely.transform(parts[0], lambda points: points + (0.0, height_mm)), notes


def _of_film(fault: Fault) -> Fault:
    """The fault of a drawn line, told of the film's outline instead of a decal's cut line."""
    what = fault.what.replace("the cut line", "the outline of the film")
    return Fault(what=what, where=fault.where, do=fault.do, code=fault.code)


def _refuse_off_roll(region: shapely.Polygon, job: Job, named: str) -> None:
    left, bottom, right, _ = region.bounds
    roll = f'roll "{job.roll.name}"'
    if right > job.roll.width_mm + JOIN_MM:
        raise Fault(
            what=f"the film is drawn to {length(right)} from its left edge, {roll} is "
            f"{length(job.roll.width_mm)} wide",
            where=named,
            do="draw the film of this roll, or name the roll that it is of",
            code=OUT_OF_REACH,
        )
    if min(left, bottom) < -JOIN_MM:
        raise Fault(
            what=f"the film is drawn {length(-min(left, bottom))} beyond the lower left corner of "
            "its page",
            where=named,
            do="move the page: its left side is the roll's left edge, its lower the leading edge",
        )
