"""One thing that is wrong with the art of a decal, and where on the decal it is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from nestplan.faults import Level, Note

Kind = Literal[
    "bleed", "resolution", "font", "ink", "colour", "hairline",
    "narrow", "waste", "corner", "doubled", "joined",
]  # fmt: skip
KINDS: tuple[Kind, ...] = get_args(Kind)
EACH_MOST = 3  # of one kind on one decal; more of them teach nothing new


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtFault:
    """What is wrong, in the words of a note, and the round place it is seen in.

    where: decal or element, for people. x_mm, y_mm: the middle of the place, decal
    coordinates. size_mm: how far it reaches across, 0 for a point.
    """

    kind: Kind
    level: Level
    where: str
    text: str
    x_mm: float
    y_mm: float
    size_mm: float

    @property
    def note(self) -> Note:
        """The same as a note of the plan."""
        return Note(level=self.level, where=self.where, text=self.text)


def few(found: Sequence[ArtFault]) -> list[ArtFault]:
    """The first of each kind, kinds in their order; the last of a kind counts the others."""
    kept: list[ArtFault] = []
    for kind in KINDS:
        alike = [fault for fault in found if fault.kind == kind]
        over = len(alike) - EACH_MOST
        if over > 0:
            last = alike[EACH_MOST - 1]
            more = f"{last.text} (and {over} more such {'place' if over == 1 else 'places'})"
            alike = [*alike[: EACH_MOST - 1], replace(last, text=more)]
        kept += alike
    return kept
