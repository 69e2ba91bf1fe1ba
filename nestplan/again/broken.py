"""A print that broke off: which copies are whole, which are spoiled, which were never printed.

A copy can be cut only if its frame can be read. Where the print ends before a frame's last mark,
the copies printed whole in that frame are spoiled too, unless somebody says that they can be cut.
"""

from dataclasses import dataclass

from nestplan.again.printed import Copy, Printed
from nestplan.again.spoiled import Spoiled
from nestplan.faults import Fault
from nestplan.figures import length


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """What became of the copies of a print that ended at y.

    spoiled: printed, in part or whole, and of no use; unprinted: no ink of them is on the film.
    unreadable: of the spoiled, those printed whole in a frame that lacks marks.
    """

    at_mm: float
    spoiled: tuple[Spoiled, ...]
    unprinted: tuple[Copy, ...]
    unreadable: int


def broken_off(printed: Printed, at_mm: float, *, keep_printed: bool = False) -> Broken:
    """What a print came to that ended at_mm from the leading edge, in run coordinates.

    keep_printed: copies printed whole count, marks or not. raises: Fault where it was all printed.
    """
    if not 0 <= at_mm < printed.used_mm:
        raise Fault(
            what=f"the print cannot have broken off at {length(at_mm)}",
            where="--broken",
            do=f"write millimetres from the leading edge of the film, below "
            f"{length(printed.used_mm)}, the length of the run",
        )
    spoiled, unprinted, unreadable = [], [], 0
    reason = f"print broke off at {length(at_mm)}"
    for copy in printed.copies:
        if copy.low_mm >= at_mm:
            unprinted.append(copy)
        elif copy.high_mm > at_mm:
            spoiled.append(Spoiled(copy=copy, reason=reason))
        elif copy.marks_mm > at_mm and not keep_printed:
            spoiled.append(Spoiled(copy=copy, reason=f"{reason}, before the marks of its frame"))
            unreadable += 1
    if not spoiled and not unprinted:
        raise Fault(
            what=f"all copies had been printed at {length(at_mm)}, with their marks",
            where="--broken",
            do="leave --broken out, and name what is spoiled in a table",
        )
    return Broken(
        at_mm=at_mm,
        spoiled=tuple(spoiled),
        unprinted=tuple(unprinted),
        unreadable=unreadable,
    )
