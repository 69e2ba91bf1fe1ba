"""Which figures of a shop move a price most: each a tenth less and a tenth more, by itself.

A rate is priced anew from what the run takes: no nest is made again.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from nestplan.artwork import Artwork
from nestplan.cost.lines import Taken, account_of
from nestplan.cost.piece import TIME_PLACES
from nestplan.cost.price import Price, price_of
from nestplan.cost.respoiled import respoiled
from nestplan.figures import short
from nestplan.job import Discount, Job, Roll, stages_of

TENTHS = (9, 11)  # of what a figure is now
MARGIN_MOST = Decimal("99.9999")
PERCENT_MOST = Decimal(100)

Tenths = int
Case = tuple[Job, Taken]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One figure, and the price before tax at nine and at eleven tenths of it.

    now: as the file has it, with its unit. less, more: None where the figure cannot be so.
    exact: False where film and times were taken in proportion.
    """

    what: str
    now: Decimal
    unit: str
    less: Decimal | None
    more: Decimal | None
    exact: bool = True

    def reach(self, net: Decimal) -> Decimal:
        """The greater of both changes of the price, without its sign."""
        return max(abs(each - net) for each in (self.less, self.more) if each is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figure:
    """A figure that can be changed: `at` gives the job and what it takes at so many tenths."""

    what: str
    now: Decimal
    unit: str
    at: Callable[[Tenths], Case | None]
    exact: bool = True


def moves_of(job: Job, artwork: Artwork, taken: Taken, frames: int) -> tuple[Move, ...]:
    """Every figure that moves the price, the one that moves it most first.

    frames: how many the run is divided into. Of two that move it alike the one named first by
    the shop's way goes first: material, hands, machines, times, spoilage, margin, discounts.
    """
    net = price_of(job, account_of(job, taken)).net
    found = []
    for figure in _figures(job, artwork, taken, frames):
        less, more = (_net(figure.at(tenths)) for tenths in TENTHS)
        move = Move(
            what=figure.what,
            now=figure.now,
            unit=figure.unit,
            less=less,
            more=more,
            exact=figure.exact,
        )
        if (less, more) != (None, None) and move.reach(net):
            found.append(move)
    return tuple(sorted(found, key=lambda move: -move.reach(net)))


def _net(case: Case | None) -> Decimal | None:
    return None if case is None else _price(*case).net


def _price(job: Job, taken: Taken) -> Price:
    return price_of(job, account_of(job, taken))


def _figures(job: Job, artwork: Artwork, taken: Taken, frames: int) -> Iterator[_Figure]:
    yield from _material(job, taken)
    yield from _rates(job, taken)
    yield from _times(job, taken)
    yield from _spoilage(job, artwork, taken, frames)
    yield from _shares(job, taken)


def _material(job: Job, taken: Taken) -> Iterator[_Figure]:
    units = {"m2": "m²", "m": "m", "roll": "roll"}

    def dearer(roll: Roll, tenths: Tenths) -> Roll:
        return roll.model_copy(update={"price": _of(roll.price, tenths)})

    currency, roll, over = job.shop.cost.currency, job.roll, job.laminate
    yield _Figure(
        what=f"film {roll.name}",
        now=roll.price,
        unit=f"{currency} a {units[roll.per]}",
        at=lambda tenths: (replace(job, roll=dearer(roll, tenths)), taken),
    )
    if over is not None:
        yield _Figure(
            what=f"laminate {over.name}",
            now=over.price,
            unit=f"{currency} a {units[over.per]}",
            at=lambda tenths: (replace(job, laminate=dearer(over, tenths)), taken),
        )

    def inked(tenths: Tenths) -> Case:
        cost = job.shop.cost
        white = cost.white_per_ml
        own = {name: _of(price, tenths) for name, price in cost.ink_per_ml_of.items()}
        return _at_rates(
            job,
            taken,
            ink_per_ml=_of(cost.ink_per_ml, tenths),
            ink_per_ml_of=own,
            white_per_ml=None if white is None else _of(white, tenths),
        )

    cost = job.shop.cost
    yield _Figure(what="ink", now=cost.ink_per_ml, unit=f"{currency} a ml", at=inked)
    if cost.tape_per_m2 is not None:
        yield _rate(job, taken, "transfer tape", "tape_per_m2", f"{currency} a m²")
    yield _rate(job, taken, "parcel", "parcel", f"{currency} each")


def _rates(job: Job, taken: Taken) -> Iterator[_Figure]:
    hour = f"{job.shop.cost.currency} an hour"
    yield _rate(job, taken, "hands", "labour_per_h", hour)
    stages = stages_of(job.shop, job.setup, laminated=job.laminate is not None)
    machines = {machine.name: machine for _, machine, _ in stages}
    if any(machine.per_h is None for machine in machines.values()):
        yield _rate(job, taken, "machine", "machine_per_h", hour)
    for name, machine in machines.items():
        if machine.per_h is not None:
            yield _Figure(
                what=name,
                now=machine.per_h,
                unit=hour,
                at=lambda tenths, name=name: _at_machine(  # type: ignore[misc]  # mypy cannot infer a lambda with a default
                    job, taken, name, tenths
                ),
            )


def _at_machine(job: Job, taken: Taken, name: str, tenths: Tenths) -> Case:
    machines = [
        machine.model_copy(update={"per_h": _of(machine.per_h, tenths)})
        if machine.name == name and machine.per_h is not None
        else machine
        for machine in job.shop.machine
    ]
    return replace(job, shop=job.shop.model_copy(update={"machine": machines})), taken


def _times(job: Job, taken: Taken) -> Iterator[_Figure]:
    for what, key, unit in (
        ("setting up", "set_up_s", "s a job"),
        ("weeding along contours", "weeding_s_per_m", "s a m"),
        ("weeding detail", "weeding_s_per_turn", "s a turn"),
        ("masking copies", "masking_s_per_copy", "s a copy"),
        ("masking area", "masking_s_per_m2", "s a m²"),
        ("packing copies", "packing_s_per_copy", "s a copy"),
        ("packing parcels", "packing_s_per_parcel", "s a parcel"),
    ):
        yield _rate(job, taken, what, key, unit)
    times = taken.times

    def handled(tenths: Tenths) -> Case:
        hands = tuple((does, _of(seconds, tenths)) for does, seconds in times.hands_s)
        slower = replace(times, hands_s=hands, handling_s=_of(times.handling_s, tenths))
        return job, replace(taken, times=slower)

    yield _Figure(
        what="loading and carrying",
        now=_seconds(times.handling_s),
        unit="s a run",
        at=handled,
    )


def _spoilage(job: Job, artwork: Artwork, taken: Taken, frames: int) -> Iterator[_Figure]:
    """How often copies, frames and runs are spoiled, or the overs that the job asks for."""
    asked = job.order.overs_percent

    def then(changed: Job) -> Case:
        return changed, respoiled(job, changed, artwork, taken, frames)

    if asked is not None:

        def more(tenths: Tenths) -> Case | None:
            percent = _of(asked, tenths)
            order = job.order.model_copy(update={"overs_percent": percent})
            return then(replace(job, order=order))

        yield _Figure(what="overs", now=asked, unit="%", at=more, exact=False)
        return
    for what, key in (
        ("spoiled copies", "spoiled_copy_percent"),
        ("spoiled frames", "spoiled_frame_percent"),
        ("spoiled runs", "spoiled_run_percent"),
    ):
        now: Decimal = getattr(job.shop.cost, key)
        if not now:
            continue

        def spoilt(tenths: Tenths, key: str = key, now: Decimal = now) -> Case | None:
            percent = _of(now, tenths)
            if percent > PERCENT_MOST:
                return None
            changed, _ = _at_rates(job, taken, **{key: percent})
            return then(changed)

        yield _Figure(what=what, now=now, unit="%", at=spoilt, exact=False)


def _shares(job: Job, taken: Taken) -> Iterator[_Figure]:
    """Margin and discounts, each a share of the price."""
    cost = job.shop.cost

    def margin(tenths: Tenths) -> Case | None:
        percent = _of(cost.margin_percent, tenths)
        return None if percent > MARGIN_MOST else _at_rates(job, taken, margin_percent=percent)

    yield _Figure(what="margin", now=cost.margin_percent, unit="%", at=margin)
    reached = [each for each in cost.discount if each.copies <= sum(taken.ordered)][-1:]
    for each in reached:

        def discounted(tenths: Tenths, each: Discount = each) -> Case | None:
            percent = _of(each.percent, tenths)
            if percent > PERCENT_MOST:
                return None
            rows = [
                row.model_copy(update={"percent": percent}) if row is each else row
                for row in cost.discount
            ]
            return _at_rates(job, taken, discount=rows)

        what = f"discount from {each.copies} copies on"
        yield _Figure(what=what, now=each.percent, unit="%", at=discounted)

    def own(tenths: Tenths) -> Case | None:
        percent = _of(job.order.discount_percent, tenths)
        if percent > PERCENT_MOST:
            return None
        order = job.order.model_copy(update={"discount_percent": percent})
        return replace(job, order=order), taken

    yield _Figure(what="discount for this job", now=job.order.discount_percent, unit="%", at=own)


def _rate(job: Job, taken: Taken, what: str, key: str, unit: str) -> _Figure:
    """A figure of the shop's [cost]: money, or a time in seconds."""
    now = getattr(job.shop.cost, key)
    return _Figure(
        what=what,
        now=now if isinstance(now, Decimal) else _seconds(now),
        unit=unit,
        at=lambda tenths: _at_rates(job, taken, **{key: _of(now, tenths)}),
    )


def _at_rates(job: Job, taken: Taken, **rates: Any) -> Case:
    cost = job.shop.cost.model_copy(update=rates)
    return replace(job, shop=job.shop.model_copy(update={"cost": cost})), taken


def _seconds(time_s: float) -> Decimal:
    """As a person would write it."""
    return Decimal(short(time_s, TIME_PLACES))


def _of(now: Any, tenths: Tenths) -> Any:
    """So many tenths of an amount of money (exact) or of a time (a float)."""
    return now * tenths / 10
