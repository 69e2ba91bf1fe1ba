"""What spoiled copies cost in film: each its share of what the run took, by area."""

from collections.abc import Sequence

from nestplan.again.printed import Printed
from nestplan.again.spoiled import Spoiled
from nestplan.stock import LostCopy
from nestplan.stock.book import um_of_mm


def losses(
    printed: Printed, spoiled: Sequence[Spoiled], used_mm: float, until_mm: float
) -> tuple[LostCopy, ...]:
    """Spoiled copies with their share of the film that the run used, waste counted in.

    until_mm: where the print ended; copies behind it share in nothing.
    """
    there = sum(copy.area_mm2 for copy in printed.copies if copy.low_mm < until_mm)
    return tuple(
        LostCopy(
            decal=each.copy.decal,
            copy=each.copy.number,
            reason=each.reason,
            share_um=um_of_mm(used_mm * each.copy.area_mm2 / there),
        )
        for each in spoiled
    )
