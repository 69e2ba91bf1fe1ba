"""What stands in the stock's book: pieces of film, every movement of film, reservations, spoiled
film. Lengths are whole micrometres, so that sums are exact.

A metre that leaves one account enters another: `source` and `target` of a movement are pieces or
one of the ACCOUNTS. Nothing is ever struck out; what is left of a piece is what came in less what
went out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

UM_PER_MM = 1_000
UM_PER_M = 1_000_000

SUPPLIER = "supplier"  # where film comes from
HAND = "hand"  # used without a plan
RUN = "run"  # used by a plan
LOST = "lost"  # used by a plan, and spoiled
SCRAP = "scrap"  # thrown away unused
DIFFERENCE = "difference"  # what a count found more or less than the book
ACCOUNTS = (SUPPLIER, HAND, RUN, LOST, SCRAP, DIFFERENCE)

Kind = Literal["add", "use", "scrap", "cut", "count", "run", "back", "lost"]
KINDS: tuple[Kind, ...] = get_args(Kind)
Spoiled = Literal["defect", "splice"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A roll or a remnant. film: the [[roll]] of the shop file that it is of.

    parent: the piece it was cut off, of a remnant that was.
    """

    id: str
    film: str
    width_um: int
    parent: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Film that went from one account to another. no: in the order of booking, from 1.

    plan: the plan that used it. once: what may be booked a single time has a name for it.
    """

    no: int
    at: str
    kind: Kind
    source: str
    target: str
    length_um: int
    plan: str | None = None
    reason: str = ""
    once: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Spoiled film of a piece, from the leading edge as it was after the movement `after`."""

    no: int
    piece: str
    kind: Spoiled
    from_um: int
    to_um: int
    after: int
    note: str = ""
    cleared: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Reservation:
    """Film of a piece that a plan will use. place: the folder the plan lies in."""

    no: int
    plan: str
    piece: str
    length_um: int
    job: str
    place: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """All of a stock, in the order of booking."""

    pieces: Sequence[Piece]
    movements: Sequence[Movement]
    spans: Sequence[Span]
    reservations: Sequence[Reservation]

    def runs(self, plan: str) -> list[Movement]:
        """The film that a plan used, a movement a piece; empty where it is not booked."""
        return [each for each in self.movements if each.kind == "run" and each.plan == plan]


def um_of_mm(mm: float) -> int:
    """The nearest whole micrometre."""
    return round(mm * UM_PER_MM)


def um_of_m(m: float) -> int:
    """The nearest whole micrometre."""
    return round(m * UM_PER_M)


def metres(um: int) -> str:
    """36.86 m: millimetres where there are any."""
    text = f"{abs(um) / UM_PER_M:.3f}"
    text = text[:-1] if text.endswith("0") else text
    return f"{'-' if um < 0 else ''}{text} m"
