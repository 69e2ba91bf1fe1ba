"""Where every cent of a run's cost comes from, as data: lines, by stage, kind and decal."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Stage = Literal["set-up", "film", "print", "laminate", "cut", "weeding", "masking", "packing"]
Kind = Literal["film", "ink", "other", "labour", "machine"]

STAGES: tuple[Stage, ...] = (
    "set-up",
    "film",
    "print",
    "laminate",
    "cut",
    "weeding",
    "masking",
    "packing",
)
KINDS: tuple[Kind, ...] = ("film", "ink", "other", "labour", "machine")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One cost: an amount of something at a rate, rounded to the cent.

    kind: film (and laminate), ink, other material, labour, machine. rate: money for one `unit`
    of `amount`; amount times rate is the cost but for rounding (film is divided by area from
    one sum). shares: of each decal, cents that add up to the cost.
    """

    stage: Stage
    kind: Kind
    what: str
    amount: Decimal
    unit: str
    rate: Decimal
    cost: Decimal
    shares: tuple[Decimal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Every line of a run. names, ordered, planned: by decal, in the job's order.

    cent: the least amount of the currency. Lines add up to stages, kinds and the total, and
    their shares to the decals, to the cent.
    """

    currency: str
    cent: Decimal
    names: tuple[str, ...]
    ordered: tuple[int, ...]
    planned: tuple[int, ...]
    lines: tuple[Line, ...]

    @property
    def total(self) -> Decimal:
        """All lines."""
        return _sum(line.cost for line in self.lines)

    @property
    def copies(self) -> int:
        """Ordered, of all decals."""
        return sum(self.ordered)

    @property
    def by_stage(self) -> tuple[tuple[Stage, Decimal], ...]:
        """What each stage costs; stages without a line are left out."""
        there = {line.stage for line in self.lines}
        return tuple((stage, self.of(stage=stage)) for stage in STAGES if stage in there)

    @property
    def by_decal(self) -> tuple[Decimal, ...]:
        """What all copies of each decal cost."""
        return tuple(_sum(line.shares[k] for line in self.lines) for k in range(len(self.names)))

    def of(self, *, stage: Stage | None = None, kind: Kind | None = None) -> Decimal:
        """What a stage, a kind, or a kind within a stage costs."""
        return _sum(
            line.cost
            for line in self.lines
            if stage in (None, line.stage) and kind in (None, line.kind)
        )


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
