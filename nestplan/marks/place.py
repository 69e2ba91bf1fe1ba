"""Frames round the strips of a nest, each with its marks, words and scale bars.

Tried in this order, since each costs more film than the one before: a pocket of the
nest, a longer end of the frame, a lane along the edge. A lane needs a narrower nest,
so this room only asks for it; the nest is made again by whoever calls the rooms.
"""

from dataclasses import replace

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from nestplan.artwork import Decal
from nestplan.geometry.same import SAME_MM
from nestplan.job import Job
from nestplan.marks.evenly_placed import Ends, evenly_placed, frame_length_mm
from nestplan.marks.film import lead_mm, past_spoiled_mm, refuse_short_roll, tail_mm
from nestplan.marks.ink import Ink
from nestplan.marks.lanes import Lanes, strip_range_mm
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, MarkPlan, Slug
from nestplan.marks.off_film import NOTHING, first_y0_mm, frame_y0_mm, gone_in_frame, kept_clear
from nestplan.marks.placement_notes import frame_notes, placement_notes
from nestplan.marks.refused import no_marks_on_remnant, refuse_long_frame, refuse_unreadable_web
from nestplan.marks.safe_zone import Web, safe_zone, web_of
from nestplan.marks.settle import numbered, settled
from nestplan.marks.shapes import mark_outline
from nestplan.marks.words import BAND_ROOM_MM, bar_place, bar_room, place_words
from nestplan.nest import Missing, Nest, Strip


def place_marks(
    job: Job,
    decals: tuple[Decal, ...],
    nest: Nest,
    lanes: Lanes,
    missing: Missing | None = None,
    *,
    rough: bool = False,
) -> MarkPlan | Lanes:
    """Frames with marks for every strip, or the lanes without which marks cannot stand.

    lanes: what this nest already leaves free. missing: film that lacks round the first strip.
    rough: marks stay evenly spaced, for a price: choosing better places takes no more film;
    where else a mark could stand is not worked out.
    raises: Fault where no mark can stand on this film at all, where a frame cannot be as
    long as the cutter needs, or where the roll is too short.
    """
    web = web_of(job)
    refuse_unreadable_web(job, web)
    frames: list[Frame] = []
    asked = lanes
    y_mm = lead_mm(job)
    longer_mm = 0.0
    known: dict[bytes, tuple[Frame, float] | Lanes] = {}
    for index, strip in enumerate(nest.strips, start=1):
        lacks = missing if index == 1 else None
        key = strip.placements.key if lacks is None else b""
        if key not in known:
            known[key] = _frame(job, web, decals, nest, strip, lanes, index, lacks, rough=rough)
        made = known[key]
        if isinstance(made, Lanes):
            asked = asked.with_those(made)
            continue
        frame, extra = made
        if missing is not None:
            y_mm = frame_y0_mm(missing, index, y_mm, frame.strip_y0_mm)
        y_mm = past_spoiled_mm(job, y_mm, frame.length_mm)
        frames.append(_moved(replace(frame, index=index), y_mm))
        y_mm += frame.length_mm + job.cutter.frame_gap_mm
        longer_mm += extra
    if asked != lanes:
        return asked
    gone = [NOTHING if missing is None else _gone_round(missing, frame) for frame in frames]
    placement = None
    if not rough:
        frames, placement = settled(job, web, decals, nest, frames, gone)
    used_mm = frames[-1].y0_mm + frames[-1].length_mm + tail_mm(job)
    refuse_short_roll(job, used_mm)
    sensor = job.cutter.sensor
    assert sensor is not None
    return MarkPlan(
        frames=tuple(frames),
        shape=sensor.shape,
        size_mm=sensor.size_mm,
        clear_mm=sensor.clear_mm,
        spacing_mm=sensor.spacing_mm,
        outline=mark_outline(sensor),
        length_used_mm=used_mm,
        notes=(
            *frame_notes(job, web, frames, decals, longer_mm),
            *(placement_notes(job, frames, placement) if placement else ()),
        ),
        placement=placement,
    )


def _gone_round(missing: Missing, frame: Frame) -> BaseGeometry:
    """Film that a frame lacks, run coordinates; only the first of a run lacks any."""
    if frame.index > 1:
        return NOTHING
    here = gone_in_frame(missing, frame.strip_y0_mm - frame.y0_mm, frame.length_mm)
    return shapely.affinity.translate(here, 0.0, frame.y0_mm)


def _frame(
    job: Job,
    web: Web,
    decals: tuple[Decal, ...],
    nest: Nest,
    strip: Strip,
    lanes: Lanes,
    index: int,
    missing: Missing | None,
    *,
    rough: bool,
) -> tuple[Frame, float] | Lanes:
    """One frame at y0 = 0 and the film its ends took beyond bleed, or the lanes it needs."""
    sensor = job.cutter.sensor
    assert sensor is not None
    bleed = max(decals[i].beyond_mm for i in np.unique(strip.placements.shape))
    ink = _ink(decals, nest, strip)
    ends = Ends(lead_mm=bleed, trail_mm=bleed)
    slug_room = 0.0
    while True:
        length = frame_length_mm(job, sensor, strip, ends)
        here = ink.moved_along(ends.lead_mm)
        gone = NOTHING if missing is None else gone_in_frame(missing, ends.lead_mm, length)
        if missing is not None and not _begins_late_enough(job, missing, ends):
            return Lanes(lead=True)
        kept = _kept_for_bar(job, web, lanes, length)
        if kept is not None and gone.intersects(bar_room(kept)):
            kept = None  # the lane is free elsewhere
        room = NOTHING if kept is None else bar_room(kept)
        marks = evenly_placed(job, web, here, room, length, ends, gone)
        if isinstance(marks, Lanes):
            if missing is not None and lanes.with_those(marks) == lanes:
                raise no_marks_on_remnant(job)
            return marks
        if isinstance(marks, Ends):
            ends = marks
            continue
        clear = NOTHING if missing is None else kept_clear(missing, gone)
        slug = place_words(web, sensor, here, clear, marks, length, kept)
        if isinstance(slug, Slug):
            break
        if slug is not None and not lanes.any:
            return slug
        if slug is not None and gone and not (lanes.left and lanes.right):
            return Lanes(left=True, right=True)  # along the film's own edges there is room
        if slug is not None:  # marks stand too near each other even in lanes
            ends = replace(ends, trail_mm=ends.trail_mm + SCALE_BAR_MM + 2 * BAND_ROOM_MM)
            continue
        assert slug_room == 0.0 or gone, "a band across whole film always holds the words"
        slug_room = BAND_ROOM_MM
        ends = replace(ends, trail_mm=ends.trail_mm + slug_room)
    refuse_long_frame(job, length, index)
    zone: BaseGeometry = shapely.Polygon()
    if not rough:
        whole = shapely.affinity.translate(shapely.union_all(ink.copies()), 0.0, ends.lead_mm)
        zone = safe_zone(job, web, y0_mm=0.0, length_mm=length, ink=whole.union(gone))
    frame = Frame(
        index=index,
        y0_mm=0.0,
        length_mm=length,
        strip_y0_mm=ends.lead_mm,
        marks=numbered(job, [(x, y, False) for x, y in marks]),
        slug=slug,
        safe=zone,
    )
    return frame, length - strip.length_mm - 2 * bleed


def _kept_for_bar(job: Job, web: Web, lanes: Lanes, length_mm: float) -> tuple[float, float] | None:
    """Where the bar along the feed stands when the nest keeps a lane for it alone."""
    if not lanes.bar or lanes.left or lanes.right:
        return None
    return bar_place(strip_range_mm(job, web, lanes)[1], length_mm)


def _ink(decals: tuple[Decal, ...], nest: Nest, strip: Strip) -> Ink:
    """All that decals print or cut, run coordinates across, strip coordinates along."""
    laid = strip.placements.moved(nest.x0_mm, 0.0)
    return Ink(areas=tuple(decal.taken for decal in decals), laid=laid)


def _moved(frame: Frame, y0_mm: float) -> Frame:
    """The same frame farther along the film."""
    return replace(
        frame,
        y0_mm=y0_mm,
        strip_y0_mm=frame.strip_y0_mm + y0_mm,
        marks=tuple(replace(mark, y_mm=mark.y_mm + y0_mm) for mark in frame.marks),
        slug=frame.slug.moved_along(y0_mm),
        safe=shapely.affinity.translate(frame.safe, 0.0, y0_mm),
    )


def _begins_late_enough(job: Job, missing: Missing, ends: Ends) -> bool:
    """Whether there is film for this leading end before the strip, which cannot be moved."""
    return missing.start_mm - ends.lead_mm >= first_y0_mm(job, missing.area) - SAME_MM
