"""A quote: a job priced at one quantity or several, for a customer, from a day to a day."""

from dataclasses import dataclass, replace
from datetime import date

from nestplan.artwork import Decal
from nestplan.cost import Move
from nestplan.job import Job, QuoteTerms
from nestplan.plan_price import Priced


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offer:
    """A job at one quantity. moves: figures that move its price, the one that does most first.

    likely: what such runs took so far, a line a stage; nothing where none are known.
    """

    priced: Priced
    moves: tuple[Move, ...]
    likely: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quote:
    """What both pages say. offers: by quantity, rising. number: of this quote and no other."""

    job: Job
    terms: QuoteTerms
    day: date
    last_day: date
    offers: tuple[Offer, ...]
    version: str
    seed: int
    steps: int

    @property
    def decals(self) -> tuple[Decal, ...]:
        """As the customer will see them: cut out, so without bleed, and from the right side."""
        return tuple(map(_seen, self.offers[0].priced.artwork.decals))

    @property
    def currency(self) -> str:
        """ISO 4217 code."""
        return self.job.shop.cost.currency

    @property
    def film(self) -> str:
        """What it is printed on, as the customer hears it."""
        return film_of(self.job)


def _seen(decal: Decal) -> Decal:
    """The decal by its first copy, where each says its own."""
    rows = tuple(row for _, row in decal.printed_rows[:1])
    return replace(decal.upright, bleed_mm=0.0, rows=rows, numbers=())


def film_of(job: Job) -> str:
    """The film of a job, its finish, and what goes over it."""
    roll, over = job.roll, job.laminate
    said = [roll.name, *([roll.finish] if roll.finish not in roll.name else [])]
    if over is not None:
        said.append(f"under {over.name}")
    return ", ".join(said)
