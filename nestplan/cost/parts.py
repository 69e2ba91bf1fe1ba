"""What each part of a run costs: film, ink, labour, machines. Exact, not yet in cents."""

from decimal import Decimal

import shapely

from nestplan.artwork import Decal
from nestplan.clock import SetupTimes
from nestplan.cost.money import exact
from nestplan.job import Cost, Roll

MM_PER_M = Decimal(1000)
MM2_PER_M2 = Decimal(1_000_000)
S_PER_H = Decimal(3600)
# places after the point that a measured figure keeps on its way to a price
LENGTH_PLACES = 3  # mm: a micrometre
AREA_PLACES = 2  # mm²
TIME_PLACES = 3  # s


def film_cost(roll: Roll, length_used_mm: float) -> Decimal:
    """Film from the leading edge to the end of the tail, over the whole width of the roll.

    Of a roll priced as a whole that share is paid that is used: the rest goes back on the
    shelf.
    """
    used_m = exact(length_used_mm, LENGTH_PLACES) / MM_PER_M
    if roll.per == "m":
        return used_m * roll.price
    if roll.per == "m2":
        return used_m * exact(roll.width_mm, LENGTH_PLACES) / MM_PER_M * roll.price
    assert roll.length_m is not None, "the job room refuses a price per roll without its length"
    return used_m * roll.price / exact(roll.length_m, LENGTH_PLACES)


def ink_cost(cost: Cost, decals: tuple[Decal, ...], copies: tuple[int, ...]) -> Decimal:
    """Ink on every copy, contour and bleed, at full coverage: what art covers less costs less.

    White is counted where it is printed. With white between two prints of the art the other
    inks are laid down twice. Marks, scale bars and words are left out, with the white below
    them: they are little beside one decal.
    """
    twice = any(decal.white is not None and decal.white.order == "between" for decal in decals)
    inked_mm2 = sum(
        (n * inked_mm2_of(decal) for n, decal in zip(copies, decals, strict=True)), Decimal(0)
    )
    white_mm2 = sum(
        (n * white_mm2_of(decal) for n, decal in zip(copies, decals, strict=True)), Decimal(0)
    )
    ml_per_m2 = cost.ink_ml_per_m2 if cost.white_ml_per_m2 is None else cost.white_ml_per_m2
    per_ml = cost.ink_per_ml if cost.white_per_ml is None else cost.white_per_ml
    inks = (2 if twice else 1) * inked_mm2 * cost.ink_ml_per_m2 * cost.ink_per_ml
    return (inks + white_mm2 * ml_per_m2 * per_ml) / MM2_PER_M2


def white_mm2_of(decal: Decal) -> Decimal:
    """Area of the white of one copy; the mean where each has its own row."""
    return Decimal(0) if decal.white is None else exact(decal.white.area_mm2, AREA_PLACES)


def inked_mm2_of(decal: Decal) -> Decimal:
    """Area of one copy with its bleed; a hole is smaller by the bleed that reaches into it."""
    return exact(float(shapely.area(decal.inked)), AREA_PLACES)


def taken_mm2_of(decal: Decal) -> Decimal:
    """Area of one copy with its bleed and its backing: its share of a run's cost."""
    return exact(float(shapely.area(decal.taken)), AREA_PLACES)


def labour_cost(
    cost: Cost, decals: tuple[Decal, ...], copies: tuple[int, ...], times: SetupTimes
) -> Decimal:
    """Hands: set-up once, handling as the setup says, weeding along every contour, holes too."""
    contours_m = (
        sum(
            (
                n * exact(decal.contour.length_mm, LENGTH_PLACES)
                for n, decal in zip(copies, decals, strict=True)
            ),
            Decimal(0),
        )
        / MM_PER_M
    )
    hands_s = (
        exact(cost.set_up_s, TIME_PLACES)
        + exact(times.handling_s, TIME_PLACES)
        + contours_m * exact(cost.weeding_s_per_m, TIME_PLACES)
    )
    return hands_s / S_PER_H * cost.labour_per_h


def machine_cost(cost: Cost, times: SetupTimes) -> Decimal:
    """Machines while they print, laminate and cut; waiting and handling are not theirs."""
    running_s = sum(
        (exact(each, TIME_PLACES) for each in (times.print_s, times.laminate_s, times.cut_s)),
        Decimal(0),
    )
    return running_s / S_PER_H * cost.machine_per_h
