"""What to do with a print, in plain words, with the chance behind it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from nestplan import figures
from nestplan.fit.odds import Odds

Verdict = Literal["cut it", "cut it corrected", "measure again", "reprint", "cannot be judged"]

CUTS: tuple[Verdict, ...] = ("cut it", "cut it corrected")
EXIT_CODE: dict[Verdict, int] = {
    "cut it": 0,
    "cut it corrected": 0,
    "measure again": 1,
    "reprint": 1,
    "cannot be judged": 3,
}
GRAVEST: tuple[Verdict, ...] = (
    "cannot be judged",
    "reprint",
    "measure again",
    "cut it corrected",
    "cut it",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A verdict. why: one sentence with the chance in it; do: the next step."""

    verdict: Verdict
    why: str
    do: str
    chance: float | None


def judge(
    plan: Odds,
    corrected: Odds,
    read_well: Callable[[], Odds],
    *,
    limit: float,
    gain_mm: float,
    file: str,
) -> Judged:
    """Weigh the plan's own file against the corrected one.

    read_well: the corrected file, had every mark been read perfectly. limit: chance of a white
    edge that the shop takes. gain_mm: the most by which the two files differ on the film.
    """
    left = float(corrected.p95_mm.max())
    within = f"95 % of the cuts at the worst decal within {figures.length(left, 2)}"
    if _kept(plan, limit) and gain_mm <= left:
        within = (
            f"95 % of its cuts at the worst decal within {figures.length(plan.p95_mm.max(), 2)}"
        )
        return Judged(
            verdict="cut it",
            why=f"the plan's own file does: {_edge(plan)}, {within}",
            do=f"cut {file}, which is the plan's own file",
            chance=plan.chance,
        )
    if _kept(corrected, limit):
        return Judged(
            verdict="cut it corrected",
            why=f"with the corrected file {_edge(corrected)}, {within}; with the plan's own file "
            f"{_edge(plan, short=True)}, up to {figures.length(plan.p95_mm.max(), 2)}",
            do=f"cut the new {file}, not the plan's",
            chance=corrected.chance,
        )
    if _kept(read_well(), limit):
        return Judged(
            verdict="measure again",
            why="the print could be cut, but it was read too roughly to say where: "
            f"{_edge(corrected)}",
            do="measure every mark again, more finely, and say how well with a line such as "
            "sd_mm=0.05",
            chance=corrected.chance,
        )
    return Judged(
        verdict="reprint",
        why=f"even cut corrected, {_edge(corrected)}; the shop takes {figures.chance(limit)}",
        do="print the frame again, or plan it with more bleed",
        chance=corrected.chance,
    )


def _kept(odds: Odds, limit: float) -> bool:
    return odds.chance is None or odds.chance <= limit


def _edge(odds: Odds, *, short: bool = False) -> str:
    """The chance of a white edge in words."""
    if odds.chance is None:
        return "no decal has a bleed to run out of"
    most = "" if odds.drawn or odds.chance < 1e-6 else "at most "
    chance = f"{most}{figures.chance(odds.chance)}"
    return chance if short else f"the chance of any white edge is {chance}"


def gravest(verdicts: list[Verdict]) -> Verdict:
    """The one that decides over the whole sheet."""
    return min(verdicts, key=GRAVEST.index)
