"""What a person sees when something is wrong: faults stop the run, notes travel with the plan.

A `Fault` is a user's mistake or a limit of roll, machine or disk. Anything else
that reaches the top is our own bug and keeps its traceback.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

WRONG_INPUT = 2  # the input is wrong by itself
OUT_OF_REACH = 3  # the input is right, but this roll, machine or disk cannot do it


@dataclass(eq=False)  # not frozen: `with` must be able to set __traceback__
class Fault(Exception):
    """One thing that is wrong: what (in the shop's words), where (file, key or element), do."""

    what: str
    where: str
    do: str
    code: int = WRONG_INPUT

    def __str__(self) -> str:
        return f"{self.what}\n  where  {self.where}\n  do     {self.do}"


@dataclass(eq=False)
class Faults(Exception):
    """Several faults found together, so that a person mends them in one go."""

    each: Sequence[Fault]

    @property
    def code(self) -> int:
        """Exit code: wrong input comes before what the shop cannot do."""
        return min(fault.code for fault in self.each)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.each)


def raise_all(faults: Sequence[Fault]) -> None:
    """Raise nothing, the one fault, or all of them together."""
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise Faults(tuple(faults))


Level = Literal["stop", "look", "know"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something a person should hear about a plan that was made all the same.

    level: stop (do not print before this is settled), look (needs a person's
    eye), know (good to know).
    """

    level: Level
    where: str
    text: str


def key_place(keys: Sequence[str | int]) -> str:
    """Where in a file these keys lead, rows (from 0) counted from 1: frames 1, marks 2, x_mm."""
    said = ""
    for key in keys:
        said += f" {key + 1}" if isinstance(key, int) else f"{', ' if said else ''}{key}"
    return said
