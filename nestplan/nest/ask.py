"""From decals and a strip of film to a nesting task: angles, distances, edges."""

from dataclasses import replace

import numpy as np
import shapely

from nestplan.artwork import Decal
from nestplan.faults import OUT_OF_REACH, Fault, Note, raise_all
from nestplan.geometry.outline import Outline
from nestplan.geometry.same import SAME_MM
from nestplan.nest.task import Shape, Task

TURNS_DEG: dict[str, tuple[float, ...]] = {
    "none": (0.0,),
    "half": (0.0, 180.0),
    "quarter": (0.0, 90.0, 180.0, 270.0),
    "free": tuple(float(angle) for angle in range(0, 360, 15)),
}
TOP_DEG: dict[str, float] = {"trailing": 0.0, "left": 90.0, "leading": 180.0, "right": 270.0}


def task_of(
    decals: tuple[Decal, ...],
    *,
    gutter_mm: float,
    strip_mm: tuple[float, float],
    cuttable_mm: tuple[float, float],
    may_turn: bool,
) -> Task:
    """The nesting task of all copies on a strip that reaches from strip_mm[0] to strip_mm[1].

    strip_mm: where bleed may lie; cuttable_mm: where the knife reaches (run coordinates).
    may_turn: False on film that shows a direction: every copy's top points where it should.
    """
    left, right = strip_mm
    beyond = max(cuttable_mm[0] - left, right - cuttable_mm[1], 0.0)
    shapes = tuple(
        Shape(
            name=decal.name,
            outline=decal.footprint,
            copies=decal.quantity,
            angles_deg=_angles_deg(decal, may_turn),
            any_angle=may_turn and decal.rotate == "free",
            edge_mm=max(decal.beyond_mm, beyond),
            best_deg=TOP_DEG[decal.direction],
        )
        for decal in decals
    )
    shapes = tuple(_narrowest_too(shape, right - left) for shape in shapes)
    beyonds = [decal.beyond_mm for decal in decals]
    apart = tuple(tuple(max(gutter_mm, a + b) for b in beyonds) for a in beyonds)
    return Task(shapes=shapes, width_mm=right - left, apart_mm=apart)


def _angles_deg(decal: Decal, may_turn: bool) -> tuple[float, ...]:
    """The turns that `rotate` allows, counted from where the top should point."""
    turns = TURNS_DEG[decal.rotate if may_turn else "none"]
    return tuple(sorted((TOP_DEG[decal.direction] + turn) % 360.0 for turn in turns))


def _narrowest_too(shape: Shape, width_mm: float) -> Shape:
    """The shape, with the turns at which it is narrowest listed where it fits at no other.

    They lay an edge of its convex hull along the film (Houle and Toussaint, IEEE Trans.
    PAMI 10, 1988, 761-765; from memory).
    """
    room_mm = width_mm - 2 * shape.edge_mm + SAME_MM
    if not shape.any_angle:
        return shape
    if any(size_mm(shape.outline, angle)[0] <= room_mm for angle in shape.angles_deg):
        return shape
    hull = shapely.get_coordinates(shape.outline.region.convex_hull)
    edges = np.diff(hull, axis=0)
    upright_deg = 90.0 - np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))
    narrowest = min(upright_deg.tolist(), key=lambda angle: size_mm(shape.outline, angle)[0])
    angles_deg = {*shape.angles_deg, narrowest % 360.0, (narrowest + 180.0) % 360.0}
    return replace(shape, angles_deg=tuple(sorted(angles_deg)))


def turning_notes(decals: tuple[Decal, ...], *, roll: str, may_turn: bool) -> list[Note]:
    """What film that shows a direction does to decals that could turn or that point elsewhere."""
    if may_turn:
        return []
    where, notes = f'roll "{roll}"', []
    if any(decal.rotate != "none" for decal in decals):
        text = "the film shows a direction: no decal is turned, whatever its rotate says"
        notes.append(Note(level="know", where=where, text=text))
    towards: dict[str, list[str]] = {}
    for decal in decals:
        towards.setdefault(decal.direction, []).append(f'"{decal.name}"')
    if len(towards) > 1:
        text = (
            "the film shows a direction, and it will not run the same way through every decal: "
            + "; ".join(f"top {way}: {', '.join(names)}" for way, names in towards.items())
        )
        notes.append(Note(level="look", where=where, text=text))
    return notes


def distance_notes(decals: tuple[Decal, ...], gutter_mm: float) -> list[Note]:
    """Say it where bleed, not the gutter, decides how near two contours come."""
    asked: dict[tuple[float, str], list[str]] = {}
    for decal in decals:
        if 2 * decal.beyond_mm > gutter_mm + SAME_MM:
            bleed = "the bleed" if decal.backing is None else "the bleed beyond the backing"
            asked.setdefault((2 * decal.beyond_mm, bleed), []).append(f'"{decal.name}"')
    return [
        Note(
            level="know",
            where=f"decal{'s' if len(names) > 1 else ''} {', '.join(names)}",
            text=f"bleed decides, not the gutter: two copies of a decal stand {apart_mm:g} mm "
            f"apart, twice {bleed}; gutter_mm is {gutter_mm:g}",
        )
        for (apart_mm, bleed), names in sorted(asked.items(), reverse=True)
    ]


def refuse_what_cannot_fit(task: Task, *, length_most_mm: float | None, roll: str) -> None:
    """raises: Fault(s), one for each shape wider than the strip or longer than a frame."""
    faults = []
    for shape in task.shapes:
        sizes = [size_mm(shape.outline, angle) for angle in shape.angles_deg]
        room = task.width_mm - 2 * shape.edge_mm
        across = [(wide, long) for wide, long in sizes if wide <= room + SAME_MM]
        if not across:
            faults.append(
                Fault(
                    what=f'decal "{shape.name}" is {min(s[0] for s in sizes):.1f} mm wide at '
                    f"least, the film has room for {max(room, 0.0):.1f} mm",
                    where=f'[[decal]] "{shape.name}" on roll "{roll}"',
                    do="make it smaller, let it turn (rotate), or take a wider roll",
                    code=OUT_OF_REACH,
                )
            )
        elif length_most_mm is not None and min(s[1] for s in across) > length_most_mm + SAME_MM:
            faults.append(
                Fault(
                    what=f'decal "{shape.name}" is {min(s[1] for s in across):.1f} mm long along '
                    f"the feed, a frame has room for {max(length_most_mm, 0.0):.1f} mm",
                    where=f'[[decal]] "{shape.name}", width_mm or height_mm',
                    do="make it smaller, let it turn, or take a cutter with longer frames; beyond "
                    "5080 mm the job must say long_pages = true too",
                    code=OUT_OF_REACH,
                )
            )
    raise_all(faults)


def size_mm(outline: Outline, angle_deg: float) -> tuple[float, float]:
    """(across, along) of an outline turned by an angle."""
    turned = outline.turned(angle_deg)
    return turned.width_mm, turned.height_mm
