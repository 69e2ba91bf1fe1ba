"""What a person should hear about where the marks stand."""

from collections.abc import Sequence

from nestplan.artwork import Decal
from nestplan.faults import Level, Note
from nestplan.figures import chance, count, duration, fixed, length
from nestplan.job import Job
from nestplan.marks.apart import WRONG
from nestplan.marks.lanes import PLAY_MM
from nestplan.marks.mark_plan import Frame, Placement
from nestplan.marks.safe_zone import Web, centre_ranges_mm
from nestplan.marks.shapes import blank_round_mm
from nestplan.marks.stretch import shrinkage_left_mm


def placement_notes(job: Job, frames: Sequence[Frame], placement: Placement) -> list[Note]:
    """Marks beyond the spacing's, frames in which no bad mark can be named, frames alike."""
    notes = [*_more(job, placement), *_unnamed(job, frames, placement)]
    if placement.mistaken > WRONG:
        text = (
            "two frames, or one frame and its half-turn, can be mistaken for each other by their "
            f"marks: the chance is {chance(placement.mistaken)}; look at the frame's number "
            "before it is cut"
        )
        notes.append(Note(level="look", where="marks", text=text))
    return notes


def _more(job: Job, placement: Placement) -> list[Note]:
    sensor = job.cutter.sensor
    assert sensor is not None
    more = sum(each.more for each in placement.worth if each)
    if not more:
        return []
    gain = max(each.gain for each in placement.worth if each)
    text = (
        f"{count(more, 'mark')} more than the spacing asks for: no film, "
        f"{duration(more * sensor.read_s)} of reading; with the others placed to suit, the "
        f"greatest error is up to {fixed(100 * gain, 1)} % lower than with evenly spaced marks"
    )
    return [Note(level="know", where="marks", text=text)]


def _unnamed(job: Job, frames: Sequence[Frame], placement: Placement) -> list[Note]:
    """Where a bad mark is only suspected: what one more pair would cost."""
    sensor = job.cutter.sensor
    assert sensor is not None
    if job.cutter.corrects == "none":
        return []
    which = [
        frame.index for frame, each in zip(frames, placement.named, strict=True) if not each.sure
    ]
    if not which:
        return []
    film_mm = len(which) * (2 * blank_round_mm(sensor) + PLAY_MM)
    reading = duration(2 * len(which) * sensor.read_s)
    few = ", ".join(str(index) for index in which[:6]) + (" …" if len(which) > 6 else "")
    text = (
        f"one bad mark in frame {few} would be suspected, not named: no place without more film "
        f"helps; one more pair in a longer end costs {length(film_mm, 0)} of film and {reading} "
        "of reading"
    )
    return [Note(level="know", where="marks", text=text)]


def frame_notes(
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
