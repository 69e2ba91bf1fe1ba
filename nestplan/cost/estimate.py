"""What a run costs, in decimals that add up to the cent."""

from dataclasses import dataclass
from decimal import Decimal

from nestplan.artwork import Decal
from nestplan.clock import Times
from nestplan.cost.money import each, in_cents
from nestplan.cost.parts import film_cost, ink_cost, labour_cost, machine_cost, taken_mm2_of
from nestplan.job import Job
from nestplan.marks import MarkPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Every part is rounded to the currency's cent and the parts add up to the total.

    per_decal: total over copies ordered, four decimals. per_decal_by_name: the total
    shared by contour area with bleed, price of one copy of each decal, four decimals. Copies
    that nobody ordered are printed and cut for it but no one pays for them by the piece. Each
    price is rounded by itself, halves up, so that equal decals cost the same: price times
    quantity over all decals is the total but for 0.00005 a copy at most.
    """

    currency: str
    film: Decimal
    ink: Decimal
    labour: Decimal
    machine: Decimal
    total: Decimal
    per_decal: Decimal
    per_decal_by_name: tuple[tuple[str, Decimal], ...]


def estimate(
    job: Job, decals: tuple[Decal, ...], marks: MarkPlan, times: Times, planned: tuple[int, ...]
) -> Estimate:
    """Cost of a planned run on the job's own setup, at the shop's rates, without margin or tax.

    planned: copies of each decal in the run, those that nobody ordered counted in.
    """
    cost, own = job.shop.cost, times.setups[0]
    rolls = [job.roll] if job.laminate is None else [job.roll, job.laminate]
    film = in_cents(sum((film_cost(roll, marks.length_used_mm) for roll in rolls), Decimal(0)))
    ink = in_cents(ink_cost(cost, decals, planned))
    labour = in_cents(labour_cost(cost, decals, planned, own))
    machine = in_cents(machine_cost(cost, own))
    total = film + ink + labour + machine
    return Estimate(
        currency=cost.currency,
        film=film,
        ink=ink,
        labour=labour,
        machine=machine,
        total=total,
        per_decal=each(total / sum(decal.quantity for decal in decals)),
        per_decal_by_name=_by_name(decals, total),
    )


def _by_name(decals: tuple[Decal, ...], total: Decimal) -> tuple[tuple[str, Decimal], ...]:
    areas = [taken_mm2_of(decal) for decal in decals]
    in_all = sum(
        (decal.quantity * area for decal, area in zip(decals, areas, strict=True)), Decimal(0)
    )
    return tuple(
        (decal.name, each(total * area / in_all)) for decal, area in zip(decals, areas, strict=True)
    )
