"""Strips along the film's edges that the nest leaves free, so that marks and words can stand."""

from dataclasses import dataclass

from nestplan.job import Job
from nestplan.marks.safe_zone import Web, centre_ranges_mm
from nestplan.marks.shapes import blank_round_mm

PLAY_MM = 0.25  # a lane is this much wider than its marks need: no knife-edge fits
BAR_ROOM_MM = 6.5  # a scale bar with its ticks and label, and a breath


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """Which lanes a nest leaves free: full ones for marks, or a slim one for the scale bar.

    lead: on film that is not whole, the first frame begins with room for marks.
    """

    left: bool = False
    right: bool = False
    bar: bool = False
    lead: bool = False

    @property
    def any(self) -> bool:
        """Whether the nest is narrower than the web allows."""
        return self.left or self.right or self.bar

    def with_those(self, other: "Lanes") -> "Lanes":
        """Both together."""
        return Lanes(
            left=self.left or other.left,
            right=self.right or other.right,
            bar=self.bar or other.bar,
            lead=self.lead or other.lead,
        )


def strip_range_mm(job: Job, web: Web, lanes: Lanes) -> tuple[float, float]:
    """(left, right) in run coordinates between which bleed may lie, lanes taken off.

    Contours keep their own bleed inside this range; see `edge_mm` of a shape.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    ranges = centre_ranges_mm(job, web)
    left, right = web.printable_mm
    if lanes.left:
        left = max(left, ranges[0][0] + blank_round_mm(sensor) + PLAY_MM)
    if lanes.right:
        right = min(right, ranges[-1][1] - blank_round_mm(sensor) - PLAY_MM)
    elif lanes.bar and not lanes.left:
        right -= BAR_ROOM_MM
    return left, right
