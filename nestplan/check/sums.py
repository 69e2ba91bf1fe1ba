"""The summary's own arithmetic: every figure that follows from others is worked out again."""

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

import numpy as np

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import Contour, length_mm
from nestplan.check.said import SUMMARY, Said
from nestplan.figures import count, fixed

NEAR_MM = 0.01  # of lengths
NEAR_PART = 1e-5  # of sums over many copies, each rounded
CENT = Decimal("0.005")
ROUNDED = Decimal("0.0001")  # of a price that is written with four decimals
MOST = Decimal(10) ** 12


def sum_claims(
    said: Said,
    contours: Sequence[Contour],
    layers: Sequence[CutLayer],
    copies: Sequence[Copy],
) -> list[Claim]:
    """Counts, lengths, areas, money."""
    return [
        Claim(
            says="every copy that was ordered is planned, and counted once",
            against=tuple(_counts(said)),
        ),
        *_carried(said),
        Claim(
            says="every contour has the size the summary gives",
            against=tuple(_sizes(said, contours)),
        ),
        Claim(
            says="lengths and areas of film follow from the places",
            against=(*_film(said, contours), *_frames(said)),
        ),
        Claim(
            says="the nest's length, bound and gap agree",
            against=tuple(_nest(said, copies)),
        ),
        Claim(
            says="the length of the cut is that of the rings",
            against=tuple(_cut(said, layers)),
        ),
        Claim(says="the cost is the sum of its parts", against=tuple(_cost(said))),
    ]


def _wrong(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=f"{SUMMARY}: {where}", found=found, meant=meant)


def _counts(said: Said) -> list[Finding]:
    against = []
    placed = Counter(p.decal for frame in said.frames for p in frame.placements)
    orders = said.inputs.job.decal
    if len(orders) != len(said.decals):
        found = count(len(said.decals), "decal")
        meant = f"{count(len(orders), 'decal')} as the job has"
        against.append(_wrong(Kind.COUNT_WRONG, "decals", found, meant))
    for number, decal in enumerate(said.decals, start=1):
        where = said.name(number)
        order = orders[number - 1] if number <= len(orders) else None
        asked = decal.ordered if order is None else order.quantity
        if asked is None:  # then there is a copy a row
            asked = len(decal.wanted(len(decal.rows)))
        if asked != decal.ordered:
            found, meant = f"{decal.ordered} ordered", f"{asked} in the job"
            against.append(_wrong(Kind.COUNT_WRONG, where, found, meant))
        ordered = max(decal.ordered, asked, 0)
        few = placed[number] != decal.planned or placed[number] < ordered
        missing = said.absent(number) if few or decal.numbers is not None else []
        if few or missing:
            found = f"{placed[number]} placed"
            if len(missing) > 1:
                which = ", ".join(str(copy) for copy in missing[:5])
                found += f"; copies {which}{' and more' if len(missing) > 5 else ''} are nowhere"
            elif missing:
                where = said.copy_name(number, missing[0])
                found += "; this one is nowhere"
            meant = f"{decal.planned} planned, {ordered} ordered"
            against.append(_wrong(Kind.COUNT_WRONG, where, found, meant))
    total = sum(placed.values())
    for where, found_n, meant_n in (
        ("nest.copies", said.nest.copies, total),
        ("nest.frames", said.nest.frames, len(said.frames)),
        ("cut.contours", said.cut.contours, total),
    ):
        if found_n != meant_n:
            against.append(_wrong(Kind.COUNT_WRONG, where, str(found_n), str(meant_n)))
    return against


def _carried(said: Said) -> list[Claim]:
    """Copies that stayed, moved and came are all copies; those that stayed and went, all former."""
    carried = said.nest.from_plan
    if carried is None:
        return []
    placed = [place for frame in said.frames for place in frame.placements]
    against = []
    for key, found, meant in (
        ("stayed", carried.stayed, sum(not place.anew for place in placed)),
        ("moved and came", carried.moved + carried.came, sum(place.anew for place in placed)),
        ("copies", carried.copies, carried.stayed + carried.moved + carried.went),
    ):
        if found != meant:
            where = f"nest.from_plan, {key}"
            against.append(_wrong(Kind.COUNT_WRONG, where, str(found), str(meant)))
    says = "copies that stayed, moved, came and went since the former plan add up"
    return [Claim(says=says, against=tuple(against))]


def _sizes(said: Said, contours: Sequence[Contour]) -> list[Finding]:
    against = []
    for number, (decal, contour) in enumerate(zip(said.decals, contours, strict=True), start=1):
        points = np.vstack(contour.rings)
        wide, tall = np.ptp(points, axis=0).tolist()
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        area = contour.region.area
        for key, found, meant, near in (
            ("width_mm", decal.width_mm, wide, NEAR_MM),
            ("height_mm", decal.height_mm, tall, NEAR_MM),
            ("area_mm2", decal.area_mm2, area, NEAR_MM + NEAR_PART * area),
        ):
            if abs(found - meant) > near:
                where = f"{said.name(number)}, {key}"
                against.append(
                    _wrong(
                        Kind.SUM_WRONG, where, fixed(found, 3), f"{fixed(meant, 3)} of its rings"
                    )
                )
        if float(np.abs(middle).max()) > NEAR_MM:
            found_at = f"centre at {fixed(middle[0], 3)}, {fixed(middle[1], 3)}"
            where = f"{said.name(number)}, contour"
            against.append(_wrong(Kind.SUM_WRONG, where, found_at, "centre at 0, 0"))
    return against


def _film(said: Said, contours: Sequence[Contour]) -> list[Finding]:
    roll, nest = said.roll, said.nest
    against = []
    area = roll.width_mm * roll.length_used_mm / 1e6
    if abs(roll.area_used_m2 - area) > 1e-5 + NEAR_PART * area:
        against.append(
            _wrong(Kind.SUM_WRONG, "roll.area_used_m2", fixed(roll.area_used_m2, 4), fixed(area, 4))
        )
    placed = Counter(p.decal for frame in said.frames for p in frame.placements)
    areas = [
        contour.footprint.area if contour.backing else decal.area_mm2
        for decal, contour in zip(said.decals, contours, strict=True)
    ]
    inside = sum(areas[decal - 1] * n for decal, n in placed.items())
    used = 100 * inside / (area * 1e6) if area > 0 else 0.0
    if abs(nest.used_percent - used) > 0.01:
        found, meant = f"{fixed(nest.used_percent, 3)} %", f"{fixed(used, 3)} %"
        against.append(_wrong(Kind.SUM_WRONG, "nest.used_percent", found, meant))
    if abs(nest.used_percent + nest.waste_percent - 100) > 0.001:
        found = f"{fixed(nest.used_percent + nest.waste_percent, 3)} % with what is used"
        against.append(_wrong(Kind.SUM_WRONG, "nest.waste_percent", found, "100 % together"))
    return against


def _frames(said: Said) -> list[Finding]:
    """Frames lie one behind the other, on film that is counted as used."""
    against = []
    end = 0.0
    for frame in said.frames:
        if frame.y0_mm < end - NEAR_MM:
            found = f"begins at {fixed(frame.y0_mm, 2)} mm"
            meant = f"not before {fixed(end, 2)} mm, the end of the one before"
            against.append(_wrong(Kind.SUM_WRONG, f"frame {frame.index}", found, meant))
        end = frame.y0_mm + frame.length_mm
    if said.roll.length_used_mm < end - NEAR_MM:
        found, meant = fixed(said.roll.length_used_mm, 2), f"{fixed(end, 2)} or more"
        against.append(_wrong(Kind.SUM_WRONG, "roll.length_used_mm", found, meant))
    return against


def _nest(said: Said, copies: Sequence[Copy]) -> list[Finding]:
    nest = said.nest
    against = []
    ends: dict[int, list[float]] = {}
    for copy in copies:
        points = np.vstack(copy.rings)[:, 1]
        ends.setdefault(copy.frame, []).extend((float(points.min()), float(points.max())))
    length = sum(max(each) - min(each) for each in ends.values())
    if ends and abs(nest.length_mm - length) > NEAR_MM * max(1, len(ends)):
        found, meant = f"{fixed(nest.length_mm, 3)} mm", f"{fixed(length, 3)} mm as cut"
        against.append(_wrong(Kind.SUM_WRONG, "nest.length_mm", found, meant))
    if nest.bound_mm > nest.length_mm + NEAR_MM:
        found = f"{fixed(nest.bound_mm, 3)} mm"
        meant = f"no more than the nest's {fixed(nest.length_mm, 3)} mm"
        against.append(_wrong(Kind.SUM_WRONG, "nest.bound_mm", found, meant))
    if nest.bound_mm > 0:
        gap = 100 * (nest.length_mm - nest.bound_mm) / nest.bound_mm
        if abs(gap - nest.gap_percent) > 1e-3 + NEAR_PART * abs(gap):
            found, meant = f"{fixed(nest.gap_percent, 4)} %", f"{fixed(gap, 4)} %"
            against.append(_wrong(Kind.SUM_WRONG, "nest.gap_percent", found, meant))
    return against


def _cut(said: Said, layers: Sequence[CutLayer]) -> list[Finding]:
    travel, bound = said.cut.travel_mm, said.cut.travel_bound_mm
    if bound > travel + NEAR_MM + NEAR_PART * travel:
        found, meant = f"{fixed(bound, 2)} mm", f"no more than the travel's {fixed(travel, 2)} mm"
        return [_wrong(Kind.SUM_WRONG, "cut.travel_bound_mm", found, meant)]
    if not all(layer.read for layer in layers):
        return []
    length = sum(length_mm(p.ring) for layer in layers for p in layer.paths if not p.in_pieces)
    length += sum(
        float(np.hypot(*np.diff(line.line, axis=0).T).sum())
        for layer in layers
        for line in (*layer.pieces, *layer.weeds)
    )
    if abs(said.cut.length_mm - length) <= NEAR_MM + NEAR_PART * length:
        return []
    found, meant = f"{fixed(said.cut.length_mm, 2)} mm", f"{fixed(length, 2)} mm of cut lines"
    return [_wrong(Kind.SUM_WRONG, "cut.length_mm", found, meant)]


def _cost(said: Said) -> list[Finding]:
    cost = said.cost
    parts = cost.film, cost.ink, cost.labour, cost.machine
    try:
        amounts = [Decimal(text) for text in (*parts, cost.total, cost.per_decal)]
        names = {name: Decimal(text) for name, text in cost.per_decal_by_name.items()}
    except InvalidOperation:
        return [_wrong(Kind.SUM_WRONG, "cost", "an amount that is no number", "decimal text")]
    if not all(amount.is_finite() and abs(amount) < MOST for amount in (*amounts, *names.values())):
        return [_wrong(Kind.SUM_WRONG, "cost", "an amount without end", "decimal text")]
    *addends, total, each = amounts
    against = []
    whole = sum(addends, Decimal(0))
    if whole != total:
        against.append(_wrong(Kind.SUM_WRONG, "cost.total", str(total), f"{whole} of its parts"))
    ordered = sum(decal.ordered for decal in said.decals)
    near = CENT + ordered * ROUNDED
    if abs(each * ordered - total) > near:
        meant = f"{total / max(ordered, 1):.4f}"
        against.append(_wrong(Kind.SUM_WRONG, "cost.per_decal", str(each), meant))
    shared = sum((names.get(d.name, Decimal(0)) * d.ordered for d in said.decals), Decimal(0))
    once = len({decal.name for decal in said.decals}) == len(said.decals)
    if once and abs(shared - total) > near:
        found, meant = f"{shared:.2f} over all copies", f"{total} together"
        against.append(_wrong(Kind.SUM_WRONG, "cost.per_decal_by_name", found, meant))
    return against
