"""The lines of an account from what a run takes and what the shop pays."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from nestplan.clock import SetupTimes
from nestplan.cost.account import Account, Kind, Line, Stage
from nestplan.cost.money import apportioned, cent_of, exact, in_cents
from nestplan.cost.piece import INKS, LENGTH_PLACES, TIME_PLACES, Piece
from nestplan.job import Channel, Cost, Job, Roll, Task, stages_of

MM_PER_M = Decimal(1000)
MM2_PER_M2 = Decimal(1_000_000)
S_PER_H = Decimal(3600)
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a planned run takes. film_mm: from the leading edge to the end of the tail.

    planned: copies in the run, overs and others that nobody ordered counted in. times: of the
    job's own setup. parcels: one a recipient, 1 where none is named.
    """

    pieces: tuple[Piece, ...]
    ordered: tuple[int, ...]
    planned: tuple[int, ...]
    film_mm: float
    times: SetupTimes
    parcels: int = 1


def account_of(job: Job, taken: Taken) -> Account:
    """Every line of the run, at the shop's rates."""
    writer = _Writer(job=job, taken=taken, cent=cent_of(job.shop.cost.currency))
    return Account(
        currency=job.shop.cost.currency,
        cent=writer.cent,
        names=tuple(piece.name for piece in taken.pieces),
        ordered=taken.ordered,
        planned=taken.planned,
        lines=tuple(line for line in writer.lines() if line.cost != 0),
    )


def metres(length_mm: float) -> Decimal:
    """A measured length of film as it is paid for."""
    return exact(length_mm, LENGTH_PLACES) / MM_PER_M


def film_cost(roll: Roll, used_m: Decimal) -> Decimal:
    """Film over the whole width of the roll. Of a roll priced as a whole, the share used."""
    return used_m * price_per_m(roll)


def price_per_m(roll: Roll) -> Decimal:
    """A running metre of a roll, in whatever unit its supplier prices it."""
    if roll.per == "m":
        return roll.price
    if roll.per == "m2":
        return exact(roll.width_mm, LENGTH_PLACES) / MM_PER_M * roll.price
    assert roll.length_m is not None, "the job room refuses a price per roll without its length"
    return roll.price / exact(roll.length_m, LENGTH_PLACES)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Writer:
    job: Job
    taken: Taken
    cent: Decimal

    @property
    def cost(self) -> Cost:
        return self.job.shop.cost

    def lines(self) -> Iterator[Line]:
        area = self.each(lambda piece: piece.taken_mm2)
        hands = dict(self.taken.times.hands_s) or {"print": self.taken.times.handling_s}
        yield self.labour("set-up", "set up the job", exact(self.cost.set_up_s, TIME_PLACES), area)
        yield from self.film("film", self.job.roll)
        yield from self.inks()
        yield from self.stage("print", self.taken.times.print_s, hands, area)
        if self.job.laminate is not None:
            yield from self.film("laminate", self.job.laminate)
        yield from self.stage("laminate", self.taken.times.laminate_s, hands, area)
        contours = self.each(lambda piece: piece.contour_mm)
        yield from self.stage("cut", self.taken.times.cut_s, hands, contours)
        yield from self.weeding(contours)
        if self.job.order.masked:
            yield from self.masking()
        yield from self.packing()

    def each(self, of: Callable[[Piece], Decimal]) -> list[Decimal]:
        """A figure of all planned copies, by decal."""
        return [n * of(p) for n, p in zip(self.taken.planned, self.taken.pieces, strict=True)]

    # ------------------------------------------------------------------ material

    def film(self, stage: Stage, roll: Roll) -> Iterator[Line]:
        """Film divided by area: under copies ordered, under those that nobody ordered, the rest.

        A line's metres are those of a strip as wide as the film.
        """
        used_m = exact(self.taken.film_mm, LENGTH_PLACES) / MM_PER_M
        cost = in_cents(film_cost(roll, used_m), self.cent)
        pieces, ordered, planned = self.taken.pieces, self.taken.ordered, self.taken.planned
        good = [n * p.taken_mm2 for n, p in zip(ordered, pieces, strict=True)]
        extra = [
            (made - n) * p.taken_mm2 for n, made, p in zip(ordered, planned, pieces, strict=True)
        ]
        whole = used_m * exact(self.job.roll.width_mm, LENGTH_PLACES) * MM_PER_M
        rest = max(ZERO, whole - sum(good) - sum(extra))
        parts = [sum(good, ZERO), sum(extra, ZERO), rest]
        names = ("under the decals", "under extra copies", "between and around them")
        by = (good, extra, self.each(lambda piece: piece.taken_mm2))
        costs = apportioned(cost, parts, self.cent)
        for name, part, weights, amount in zip(names, parts, by, costs, strict=True):
            yield self.line(
                stage,
                "film",
                f"{roll.name}, {name}",
                used_m * part / sum(parts),
                "m",
                price_per_m(roll),
                amount,
                weights,
            )

    def inks(self) -> Iterator[Line]:
        lost = 1 + self.cost.ink_lost_percent / 100
        for k, name in enumerate(INKS):
            mm2 = self.each(lambda piece, k=k: piece.ink_mm2[k])  # type: ignore[misc]
            yield self.ink(name, mm2, self.cost.ink_ml_per_m2 * lost, self.ink_per_ml(name))
        white = self.cost.white_ml_per_m2
        ml_per_m2 = self.cost.ink_ml_per_m2 if white is None else white
        price = self.cost.white_per_ml
        per_ml = self.cost.ink_per_ml if price is None else price
        mm2 = self.each(lambda piece: piece.white_mm2)
        yield self.ink("white", mm2, ml_per_m2 * lost, per_ml)

    def ink_per_ml(self, name: Channel) -> Decimal:
        return self.cost.ink_per_ml_of.get(name, self.cost.ink_per_ml)

    def ink(self, name: str, mm2: list[Decimal], ml_per_m2: Decimal, per_ml: Decimal) -> Line:
        ml = sum(mm2, ZERO) / MM2_PER_M2 * ml_per_m2
        return self.priced("print", "ink", f"{name} ink", ml, "ml", per_ml, mm2)

    # ------------------------------------------------------------------ hands and machines

    def stage(
        self, does: Task, running_s: float, hands: dict[Task, float], weights: list[Decimal]
    ) -> Iterator[Line]:
        """Hands and machine of a stage; nothing where the setup has none."""
        named = {
            task: machine
            for task, machine, _ in stages_of(
                self.job.shop, self.job.setup, laminated=self.job.laminate is not None
            )
        }
        if does not in named:
            return
        handled_s = exact(hands.get(does, 0), TIME_PLACES)
        yield self.labour(does, "load, carry, unload", handled_s, weights)
        own = named[does].per_h
        rate = self.cost.machine_per_h if own is None else own
        hours = exact(running_s, TIME_PLACES) / S_PER_H
        yield self.priced(does, "machine", named[does].name, hours, "h", rate, weights)

    def weeding(self, contours: list[Decimal]) -> Iterator[Line]:
        per_m = exact(self.cost.weeding_s_per_m, TIME_PLACES)
        along_s = [mm / MM_PER_M * per_m for mm in contours]
        yield self.labour("weeding", "along the contours", sum(along_s, ZERO), along_s)
        per_turn = exact(self.cost.weeding_s_per_turn, TIME_PLACES)
        detail_s = [turns * per_turn for turns in self.each(lambda piece: piece.turns)]
        yield self.labour("weeding", "for their detail", sum(detail_s, ZERO), detail_s)

    def masking(self) -> Iterator[Line]:
        assert self.cost.tape_per_m2 is not None, "the job room refuses masking without its price"
        tape = self.each(lambda piece: piece.tape_mm2)
        m2 = sum(tape, ZERO) / MM2_PER_M2
        yield self.priced(
            "masking", "other", "transfer tape", m2, "m²", self.cost.tape_per_m2, tape
        )
        seconds = [
            n * exact(self.cost.masking_s_per_copy, TIME_PLACES)
            + mm2 / MM2_PER_M2 * exact(self.cost.masking_s_per_m2, TIME_PLACES)
            for n, mm2 in zip(self.taken.planned, tape, strict=True)
        ]
        yield self.labour("masking", "lay the tape", sum(seconds, ZERO), seconds)

    def packing(self) -> Iterator[Line]:
        copies = [Decimal(n) for n in self.taken.ordered]
        per_copy = exact(self.cost.packing_s_per_copy, TIME_PLACES)
        yield self.labour("packing", "count and pack", sum(copies) * per_copy, copies)
        parcels = Decimal(self.taken.parcels)
        per_parcel = exact(self.cost.packing_s_per_parcel, TIME_PLACES)
        yield self.labour("packing", "close the parcels", parcels * per_parcel, copies)
        yield self.priced("packing", "other", "parcels", parcels, "", self.cost.parcel, copies)

    def labour(self, stage: Stage, what: str, seconds: Decimal, weights: Sequence[Decimal]) -> Line:
        hours = seconds / S_PER_H
        return self.priced(stage, "labour", what, hours, "h", self.cost.labour_per_h, weights)

    # ------------------------------------------------------------------ a line

    def priced(
        self,
        stage: Stage,
        kind: Kind,
        what: str,
        amount: Decimal,
        unit: str,
        rate: Decimal,
        weights: Sequence[Decimal],
    ) -> Line:
        cost = in_cents(amount * rate, self.cent)
        return self.line(stage, kind, what, amount, unit, rate, cost, weights)

    def line(
        self,
        stage: Stage,
        kind: Kind,
        what: str,
        amount: Decimal,
        unit: str,
        rate: Decimal,
        cost: Decimal,
        weights: Sequence[Decimal],
    ) -> Line:
        return Line(
            stage=stage,
            kind=kind,
            what=what,
            amount=amount,
            unit=unit,
            rate=rate,
            cost=cost,
            shares=apportioned(cost, weights, self.cent),
        )
