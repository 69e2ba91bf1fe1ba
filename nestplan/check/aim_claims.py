"""The plans that could be chosen: the one planned is among them, none of them is idle."""

from collections.abc import Iterator

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.said import SUMMARY, Said, SaidAim, SaidLeast, SaidOption

NEAR = 1e-5  # mm, s: what rounding loses


def aim_claims(said: Said) -> list[Claim]:
    """What the summary says of them against its own figures; nothing where there is no aim."""
    if said.aim is None:
        return []
    return [
        Claim(
            says="the plan is the one of those that could be chosen that takes the least",
            against=tuple(_against(said, said.aim)),
        )
    ]


def _against(said: Said, aim: SaidAim) -> Iterator[Finding]:
    if aim.chosen > len(aim.plans):
        yield _wrong("aim.chosen", str(aim.chosen), f"1 to {len(aim.plans)}")
        return
    chosen, key = aim.plans[aim.chosen - 1], f"aim.plans, plan {aim.chosen}"
    own = next(iter(said.setups.values()), None)
    for name, found, meant in (
        ("length_used_mm", chosen.length_used_mm, said.roll.length_used_mm),
        ("print_s", chosen.print_s, said.print.time_s),
        ("cut_s", chosen.cut_s, said.cut.time_s),
        ("one_run_s", chosen.one_run_s, own.one_run_s if own else chosen.one_run_s),
        ("frames", chosen.frames, len(said.frames)),
    ):
        if abs(found - meant) > NEAR:
            yield _wrong(f"{key}, {name}", str(found), f"{meant} of the plan itself")
    if str(chosen.total) != said.cost.total:
        yield _wrong(f"{key}, total", str(chosen.total), f"{said.cost.total} of the plan itself")
    if chosen.mode != said.print.mode:
        yield _wrong(f"{key}, mode", chosen.mode, f"{said.print.mode} of the plan itself")
    for number, plan in enumerate(aim.plans, start=1):
        where = f"aim.plans, plan {number}"
        if _taken(plan)[aim.least] < _taken(chosen)[aim.least] - NEAR:
            yield _wrong(where, f"less {aim.least}", "no less than the one that was chosen")
        if any(_beats(other, plan) for other in aim.plans):
            yield _wrong(where, "beaten in all by another", "better than each other in something")
        for measure, bound in _taken(aim.bounds).items():
            if _taken(plan)[measure] < bound - NEAR:
                yield _wrong(where, f"less {measure} than the bound", "no less than aim.bounds")


def _taken(one: SaidOption | SaidLeast) -> dict[str, float]:
    return {"film": one.length_used_mm, "time": one.one_run_s, "money": float(one.total)}


def _beats(one: SaidOption, other: SaidOption) -> bool:
    """As fine, no more of anything, clearly less of something."""
    mine, others = _taken(one), _taken(other)
    if one.resolution_dpi < other.resolution_dpi:
        return False
    no_more = all(mine[key] <= others[key] + NEAR for key in mine)
    return no_more and any(mine[key] < others[key] - 2 * NEAR for key in mine)


def _wrong(where: str, found: str, meant: str) -> Finding:
    return Finding(kind=Kind.SUM_WRONG, where=f"{SUMMARY}: {where}", found=found, meant=meant)
