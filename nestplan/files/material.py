"""Where the film of a run goes: decals, and five kinds of waste that add up to the rest."""

from dataclasses import dataclass

from nestplan.files.run import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Areas of the film from the leading edge to the end of the tail, mm².

    decals:     inside the contours, or the backings of those that have one.
    margins:    left and right of the printable width, all along.
    unprinted:  lead, tail and film between frames, over the printable width.
    frame_ends: before and behind the contours of each frame: bleed, marks, words, bars.
    between:    beside and between the contours: gutters, bleed, lanes.
    """

    film_mm2: float
    decals_mm2: float
    margins_mm2: float
    unprinted_mm2: float
    frame_ends_mm2: float
    between_mm2: float

    @property
    def used_percent(self) -> float:
        """Share of the film that lies inside contours."""
        return 100.0 * self.decals_mm2 / self.film_mm2

    @property
    def waste_percent(self) -> float:
        """All the rest."""
        return 100.0 - self.used_percent


def material(run: Run) -> Material:
    """Part the film of a run by plain sums of areas."""
    width, used = run.job.roll.width_mm, run.marks.length_used_mm
    printable = run.page_width_mm
    frames = sum(frame.length_mm for frame in run.marks.frames)
    nested = run.nest.length_mm
    areas = [decal.footprint.area_mm2 for decal in run.artwork.decals]
    decals = sum(
        areas[shape] for strip in run.nest.strips for shape in strip.placements.shape.tolist()
    )
    return Material(
        film_mm2=width * used,
        decals_mm2=decals,
        margins_mm2=(width - printable) * used,
        unprinted_mm2=printable * (used - frames),
        frame_ends_mm2=printable * (frames - nested),
        between_mm2=printable * nested - decals,
    )
