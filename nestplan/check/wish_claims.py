"""What the job and its film ask for, held against the cut: turns, bands, extra copies,
spoiled film.

The job and the shop stand in the summary as they were read; what they mean is worked out
here again.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil, radians

import numpy as np

from nestplan.check.cut_copy import Copy
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import SAME_MM
from nestplan.check.said import SUMMARY, Said, SaidDecal, SaidOrder
from nestplan.figures import fixed

TOP_DEG = {"trailing": 0.0, "left": 90.0, "leading": 180.0, "right": 270.0}
STEP_DEG = {"none": 360.0, "half": 180.0, "quarter": 90.0}


def wish_claims(said: Said, copies: Sequence[Copy]) -> list[Claim]:
    """Turns, bands, extra copies, spoiled film."""
    return [
        Claim(
            says="every copy points where its decal says, or is turned as it may be",
            against=tuple(_turned(said, copies)),
        ),
        Claim(
            says="copies that are kept together lie in one band, cut off straight across",
            against=tuple(_not_together(said, copies)),
        ),
        Claim(
            says="copies that nobody ordered are of the decal that fills the last frame",
            against=tuple(_not_ordered(said)),
        ),
        Claim(
            says="copies are mirrored where the job asks for it, and nowhere else",
            against=tuple(_mirrored(said, copies)),
        ),
        Claim(says="no frame lies on spoiled film", against=tuple(_on_spoiled_film(said))),
    ]


def _mirrored(said: Said, copies: Sequence[Copy]) -> list[Finding]:
    """Copies that are cut the other way round than the job asks."""
    job, odds = said.inputs.job, []
    for copy in copies:
        order = job.decal[copy.key[0] - 1] if copy.key[0] <= len(job.decal) else None
        if order is None:
            continue
        meant = job.mirrored if order.mirrored is None else order.mirrored
        if copy.pose.mirrored != meant:
            words = ("not mirrored", "mirrored") if meant else ("mirrored", "not mirrored")
            odds.append(Odd(key=copy.key, kind=Kind.MIRROR_WRONG, found=words[0], meant=words[1]))
    return told(said, "cut layers", odds, Counter(copy.key[0] for copy in copies))


def _turned(said: Said, copies: Sequence[Copy]) -> list[Finding]:
    """Copies at an angle, as they are cut, that neither direction nor rotate allows."""
    orders, held = said.inputs.job.decal, said.film().directional
    odds = []
    for copy in copies:
        order = orders[copy.key[0] - 1] if copy.key[0] <= len(orders) else None
        if order is None or (order.rotate == "free" and not held):
            continue
        step_deg = 360.0 if held else STEP_DEG[order.rotate]
        off_deg = copy.pose.angle_deg - TOP_DEG[order.direction]
        off_deg = (off_deg + step_deg / 2) % step_deg - step_deg / 2
        if abs(radians(off_deg)) * copy.contour.reach_mm > SAME_MM:
            odds.append(
                Odd(
                    key=copy.key,
                    kind=Kind.TURN_FORBIDDEN,
                    found=f"cut at {fixed(copy.pose.angle_deg % 360, 2)}°",
                    meant=_may(order, held),
                )
            )
    return told(said, "cut layers", odds, Counter(copy.key[0] for copy in copies))


def _may(order: SaidOrder, held: bool) -> str:
    top = f"top to the {order.direction} edge, {fixed(TOP_DEG[order.direction], 0)}°"
    if held or order.rotate == "none":
        return top
    return f"{top}, or {'half' if order.rotate == 'half' else 'quarter'} turns from there"


def _not_together(said: Said, copies: Sequence[Copy]) -> Iterator[Finding]:
    """Contours that reach into a band, or that lie between two lengths of one."""
    kept = [k for k, order in enumerate(said.inputs.job.decal, start=1) if order.keep_together]
    for decal in kept:
        own = {copy.frame for copy in copies if copy.key[0] == decal}
        for frame in range(min(own, default=1), max(own, default=0) + 1):
            begun, goes_on = frame - 1 in own, frame + 1 in own
            here = [copy for copy in copies if copy.frame == frame]
            yield from _in_the_way(said, decal, here, begun=begun, goes_on=goes_on)


def _in_the_way(
    said: Said, decal: int, copies: Sequence[Copy], *, begun: bool, goes_on: bool
) -> Iterator[Finding]:
    """Other decals' copies beside a band, or on the side where it goes on in the next frame."""
    spans = {copy.key: _span_mm(copy) for copy in copies}
    band = [span for key, span in spans.items() if key[0] == decal]
    low, high = min((b for b, _ in band), default=0.0), max((t for _, t in band), default=0.0)
    for key, (bottom, top) in spans.items():
        if key[0] == decal:
            continue
        bleeds_mm = said.decals[key[0] - 1].bleed_mm + said.decals[decal - 1].bleed_mm
        apart_mm = max(said.inputs.job.gutter_mm, bleeds_mm) - SAME_MM
        before, behind = top <= low - apart_mm, bottom >= high + apart_mm
        if not band or (not before and not behind) or (before and begun) or (behind and goes_on):
            yield Finding(
                kind=Kind.NOT_TOGETHER,
                where=f"frame {copies[0].frame}, {said.copy_name(*key)}",
                found=f"from {fixed(bottom)} to {fixed(top)} mm along the feed",
                meant=f"no other decal in the band of {said.name(decal)}"
                + (f", {fixed(low)} to {fixed(high)} mm" if band else ""),
            )


def _span_mm(copy: Copy) -> tuple[float, float]:
    along = np.concatenate([ring[:, 1] for ring in copy.rings])
    return float(along.min()), float(along.max())


def _not_ordered(said: Said) -> Iterator[Finding]:
    """Copies numbered beyond order and overs, but for those of `fill_with` in the last frame."""
    last = said.frames[-1].index
    wanted = [decal.wanted(decal.ordered + _overs(said, decal)) for decal in said.decals]
    for frame in said.frames:
        for place in frame.placements:
            decal = said.decals[place.decal - 1]
            fills = decal.name == said.inputs.job.fill_with and frame.index == last
            if place.copy_ not in wanted[place.decal - 1] and not fills:
                yield Finding(
                    kind=Kind.NOT_ORDERED,
                    where=f"{SUMMARY}: frame {frame.index}, "
                    f"{said.copy_name(place.decal, place.copy_)}",
                    found=f"{decal.ordered} ordered",
                    meant="extra copies only as overs, or of the decal of fill_with in the last "
                    "frame",
                )


def _overs(said: Said, decal: SaidDecal) -> int:
    """Extra copies against spoilage that the plan says; no more than a job's own percentage."""
    asked = said.inputs.job.overs_percent
    if asked is None:
        return decal.overs
    return min(decal.overs, ceil(decal.ordered * asked / 100))


def _on_spoiled_film(said: Said) -> Iterator[Finding]:
    for start_m, end_m in said.film().avoid_m:
        for frame in said.frames:
            low, high = frame.y0_mm, frame.y0_mm + frame.length_mm
            if low < end_m * 1000 - SAME_MM and high > start_m * 1000 + SAME_MM:
                yield Finding(
                    kind=Kind.SPOILED_FILM,
                    where=f"{SUMMARY}: frame {frame.index}",
                    found=f"from {fixed(low)} to {fixed(high)} mm",
                    meant=f"nothing from {fixed(start_m * 1000)} to {fixed(end_m * 1000)} mm",
                )
