"""Frames round the strips of a nest, each with its marks, words and scale bars.

Tried in this order, since each costs more film than the one before: a pocket of the
nest, a longer end of the frame, a lane along the edge. A lane needs a narrower nest,
so this room only asks for it; the nest is made again by whoever calls the rooms.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from nestplan.artwork import Decal
from nestplan.faults import OUT_OF_REACH, Fault, Level, Note
from nestplan.geometry.same import SAME_MM
from nestplan.job import Job, Sensor
from nestplan.marks.film import lead_mm, past_spoiled_mm, refuse_short_roll, tail_mm
from nestplan.marks.lanes import PLAY_MM, Lanes, strip_range_mm
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, MarkPlan, Slug
from nestplan.marks.off_film import NOTHING, first_y0_mm, frame_y0_mm, gone_in_frame, kept_clear
from nestplan.marks.placement_notes import placement_notes
from nestplan.marks.safe_zone import Web, centre_ranges_mm, safe_zone, web_of
from nestplan.marks.settle import numbered, settled
from nestplan.marks.shapes import blank_round_mm, mark_outline
from nestplan.marks.stand import BAND_MM, CORNER_MM, corners_at, edge_places, evenly, least_between
from nestplan.marks.stretch import shrinkage_left_mm
from nestplan.marks.words import AROUND_MM, BAND_ROOM_MM, bar_place, bar_room, place_words
from nestplan.nest import Missing, Nest, Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ends:
    """Film between the frame's ends and the contours; long ends hold marks beyond the nest."""

    lead_mm: float
    trail_mm: float
    long_lead: bool = False
    long_trail: bool = False


def ends_most_mm(sensor: Sensor, bleed_mm: float) -> float:
    """Film that both ends of a frame may take together at most, marks and words included."""
    return 2 * (bleed_mm + 2 * blank_round_mm(sensor) + PLAY_MM) + BAND_ROOM_MM


def place_marks(
    job: Job,
    decals: tuple[Decal, ...],
    nest: Nest,
    lanes: Lanes,
    missing: Missing | None = None,
) -> MarkPlan | Lanes:
    """Frames with marks for every strip, or the lanes without which marks cannot stand.

    lanes: what this nest already leaves free. missing: film that lacks round the first strip.
    raises: Fault where no mark can stand on this film at all, where a frame cannot be as
    long as the cutter needs, or where the roll is too short.
    """
    web = web_of(job)
    _refuse_unreadable_web(job, web)
    frames: list[Frame] = []
    asked = lanes
    y_mm = lead_mm(job)
    longer_mm = 0.0
    for index, strip in enumerate(nest.strips, start=1):
        made = _frame(job, web, decals, nest, strip, lanes, index, missing if index == 1 else None)
        if isinstance(made, Lanes):
            asked = asked.with_those(made)
            continue
        frame, extra = made
        if missing is not None:
            y_mm = frame_y0_mm(missing, index, y_mm, frame.strip_y0_mm)
        y_mm = past_spoiled_mm(job, y_mm, frame.length_mm)
        frames.append(_moved(frame, y_mm))
        y_mm += frame.length_mm + job.cutter.frame_gap_mm
        longer_mm += extra
    if asked != lanes:
        return asked
    gone = [NOTHING if missing is None else _gone_round(missing, frame) for frame in frames]
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
            *_notes(job, web, frames, decals, longer_mm),
            *placement_notes(job, frames, placement),
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
) -> tuple[Frame, float] | Lanes:
    """One frame at y0 = 0 and the film its ends took beyond bleed, or the lanes it needs."""
    sensor = job.cutter.sensor
    assert sensor is not None
    bleed = max(decals[i].beyond_mm for i in np.unique(strip.placements.shape))
    ink = _ink(decals, nest, strip)
    ends = _Ends(lead_mm=bleed, trail_mm=bleed)
    slug_room = 0.0
    while True:
        length = _length_mm(job, sensor, strip, ends)
        here = shapely.affinity.translate(ink, 0.0, ends.lead_mm)
        gone = NOTHING if missing is None else gone_in_frame(missing, ends.lead_mm, length)
        if missing is not None and not _begins_late_enough(job, missing, ends):
            return Lanes(lead=True)
        kept = _kept_for_bar(job, web, lanes, length)
        if kept is not None and gone.intersects(bar_room(kept)):
            kept = None  # the lane is free elsewhere
        off = here if kept is None else here.union(bar_room(kept))
        marks = _marks(job, web, sensor, off, length, ends, gone)
        if isinstance(marks, Lanes):
            if missing is not None and lanes.with_those(marks) == lanes:
                raise _no_marks_on_remnant(job)
            return marks
        if isinstance(marks, _Ends):
            ends = marks
            continue
        unprinted = here if missing is None else here.union(kept_clear(missing, gone))
        slug = place_words(web, sensor, unprinted, marks, length, kept)
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
    _refuse_long_frame(job, length, index)
    zone = safe_zone(job, web, y0_mm=0.0, length_mm=length, ink=here.union(gone))
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


def _ink(decals: tuple[Decal, ...], nest: Nest, strip: Strip) -> BaseGeometry:
    """All that decals print or cut, run coordinates across, strip coordinates along."""
    bled = [decal.taken for decal in decals]
    rings = []
    for shape, centre, angle in strip.placements.moved(nest.x0_mm, 0.0).each():
        turned = shapely.affinity.rotate(bled[shape], angle, origin=(0.0, 0.0))
        rings.append(shapely.affinity.translate(turned, *centre))
    return shapely.union_all(rings)


def _length_mm(job: Job, sensor: Sensor, strip: Strip, ends: _Ends) -> float:
    """Length of the frame: ends and contours, and never less than cutter, marks and bar need."""
    blank = blank_round_mm(sensor)
    needed = 3 * blank + sensor.size_mm / 2, SCALE_BAR_MM + 2 * AROUND_MM, job.cutter.frame_least_mm
    return max(ends.lead_mm + strip.length_mm + ends.trail_mm, *needed)


def _marks(
    job: Job,
    web: Web,
    sensor: Sensor,
    ink: BaseGeometry,
    length: float,
    ends: _Ends,
    gone: BaseGeometry,
) -> list[tuple[float, float]] | _Ends | Lanes:
    """Marks of both edges, or longer ends to try next, or the lanes that are needed.

    gone: film that is not there. Along it the edges are its own.
    """
    blank = blank_round_mm(sensor)
    zone = safe_zone(job, web, y0_mm=0.0, length_mm=length, ink=ink.union(gone))
    ranges = centre_ranges_mm(job, web)
    low, high, film = ranges[0][0], ranges[-1][1], None
    if gone:
        film = safe_zone(job, web, y0_mm=0.0, length_mm=length, ink=gone)
        if film.is_empty:
            return Lanes(left=True, right=True)
        low, _, high, _ = film.bounds
    third = (high - low) / 3
    band = min(BAND_MM, third)
    wide = band if film is None else third
    sides = [
        edge_places(
            zone,
            x_from_mm=a,
            x_to_mm=b,
            y_from_mm=blank,
            y_to_mm=length - blank,
            film=film,
            band_mm=band,
        )
        for a, b in ((low, low + wide), (high, high - wide))
    ]
    corners = [
        corners_at(side, low_mm=side.from_mm + CORNER_MM, high_mm=side.to_mm - CORNER_MM)
        for side in sides
    ]
    longer = _longer_ends(ends, blank, [c[0] for c in corners], [c[1] for c in corners])
    if longer is not None:
        return longer
    if any(None in pair for pair in corners):
        assert gone, "a blank band across whole film holds a corner mark"
        return Lanes(left=True, right=True)
    counts = [least_between(side, spacing_mm=sensor.spacing_mm) for side in sides]
    if None not in counts:
        most = max(count for count in counts if count is not None)
        chosen = [
            evenly(
                side,
                between=most,
                spacing_mm=sensor.spacing_mm,
                apart_mm=blank + sensor.size_mm / 2,
            )
            for side in sides
        ]
        if None not in chosen:
            return [place for side in chosen if side is not None for place in side]
        return Lanes(left=chosen[0] is None, right=chosen[1] is None)
    return Lanes(left=counts[0] is None, right=counts[1] is None)


def _longer_ends(
    ends: _Ends, blank: float, leads: list[int | None], trails: list[int | None]
) -> _Ends | None:
    """Longer ends where a corner mark has no place yet; None where all have one."""
    if None in leads and not ends.long_lead:
        return replace(ends, lead_mm=ends.lead_mm + 2 * blank + PLAY_MM, long_lead=True)
    if None in trails and not ends.long_trail:
        return replace(ends, trail_mm=ends.trail_mm + 2 * blank + PLAY_MM, long_trail=True)
    return None


def _moved(frame: Frame, y0_mm: float) -> Frame:
    """The same frame farther along the film."""
    slug = frame.slug
    left, bottom, right, top = slug.text_mm
    return replace(
        frame,
        y0_mm=y0_mm,
        strip_y0_mm=frame.strip_y0_mm + y0_mm,
        marks=tuple(replace(mark, y_mm=mark.y_mm + y0_mm) for mark in frame.marks),
        slug=Slug(
            across_mm=(slug.across_mm[0], slug.across_mm[1] + y0_mm),
            along_mm=(slug.along_mm[0], slug.along_mm[1] + y0_mm),
            text_mm=(left, bottom + y0_mm, right, top + y0_mm),
        ),
        safe=shapely.affinity.translate(frame.safe, 0.0, y0_mm),
    )


def _refuse_unreadable_web(job: Job, web: Web) -> None:
    sensor = job.cutter.sensor
    assert sensor is not None
    ranges = centre_ranges_mm(job, web)
    apart = blank_round_mm(sensor) + sensor.size_mm / 2
    if not ranges or ranges[-1][1] - ranges[0][0] < apart:
        raise Fault(
            what=f"no pair of marks can stand on {job.roll.name!r}",
            where=f'{job.shop_path.name}, [[machine]] "{job.cutter.name}": sensor reach, margins '
            f"and roller lanes leave no two places {apart:.1f} mm apart on "
            f"{job.roll.width_mm:g} mm",
            do="take a wider roll, or another setup whose sensor reaches both edges of this one",
            code=OUT_OF_REACH,
        )


def _begins_late_enough(job: Job, missing: Missing, ends: _Ends) -> bool:
    """Whether there is film for this leading end before the strip, which cannot be moved."""
    return missing.start_mm - ends.lead_mm >= first_y0_mm(job, missing.area) - SAME_MM


def _no_marks_on_remnant(job: Job) -> Fault:
    return Fault(
        what="marks cannot stand along both edges of the film that the run starts on",
        where=f"{job.path.name}, start_on",
        do="cut off what is too narrow or too torn and draw the rest, or start on whole film",
        code=OUT_OF_REACH,
    )


def _refuse_long_frame(job: Job, length_mm: float, index: int) -> None:
    most = job.cutter.frame_greatest_mm
    if most is not None and length_mm > most + 1e-6:
        raise Fault(
            what=f"frame {index} needs {length_mm:.1f} mm, this cutter takes {most:g} mm",
            where=f'{job.shop_path.name}, [[machine]] "{job.cutter.name}", frame_greatest_mm',
            do="take a setup whose cutter takes longer frames, or let the decals turn",
            code=OUT_OF_REACH,
        )


def _notes(
    job: Job, web: Web, frames: list[Frame], decals: tuple[Decal, ...], longer_mm: float
) -> list[Note]:
    notes = []
    if longer_mm > 0.05:
        least_mm = job.cutter.frame_least_mm
        why = "marks, words and scale bars stand there"
        if min(frame.length_mm for frame in frames) <= least_mm + 1e-6:
            why = f"this cutter takes no frame under {least_mm:g} mm"
        text = f"frame ends are {longer_mm:.1f} mm longer in all than bleed needs: {why}"
        notes.append(Note(level="know", where="marks", text=text))
    ranges = centre_ranges_mm(job, web)
    longest = max(frame.length_mm for frame in frames)
    misfit = shrinkage_left_mm(job, width_mm=ranges[-1][1] - ranges[0][0], length_mm=longest)
    least_bleed = min(decal.bleed_mm for decal in decals)
    if misfit > 0.05:
        level: Level = "look" if misfit > least_bleed / 2 else "know"
        text = (
            f"the film's shrinkage leaves up to {misfit:.2f} mm at the corners of a frame after "
            f"this cutter's correction ({job.cutter.corrects}); the least bleed is "
            f"{least_bleed:g} mm"
        )
        notes.append(Note(level=level, where=f'roll "{job.roll.name}"', text=text))
    return notes
