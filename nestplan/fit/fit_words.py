"""What stands beside the arrows of a fit: verdict, run card, tables, cautions."""

import numpy as np

from nestplan import figures
from nestplan.files.proof_block import Block
from nestplan.files.proof_says import Says
from nestplan.files.proof_style import CUT
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_words import BLADES, CARRIAGE, LAST_WORD
from nestplan.fit.fitted import Fitted
from nestplan.fit.frame_fit import FrameFit
from nestplan.fit.odds import lined_up_by
from nestplan.fit.plan_folder import PlanFolder
from nestplan.fit.verdict import CUTS

MARKS_MOST = 40  # rows of the table of marks; fit.json has them all


def verdict_block(each: FrameFit) -> Says:
    """The verdict and all that speaks for it."""
    said = [("Why", _sentence(each.judged.why)), ("Do", _sentence(each.judged.do))]
    said += [("Look", _sentence(note)) for note in each.notes]
    if each.identity.odds_wrong is not None:
        said.append(
            (
                "Sure",
                f"next best is {each.identity.runner_up}, with a chance of "
                f"{figures.chance(each.identity.odds_wrong)}.",
            )
        )
    return Says(
        title=f"Verdict: {each.verdict}",
        each=tuple(said),
        lead_mm=11.0,
        loud=(("Look", CUT),),
    )


def run_card(plan: PlanFolder, each: FrameFit) -> Says:
    """Which file, whether marks are read, how the sheet lies."""
    said: list[tuple[str, str]] = []
    if each.frame is None or each.verdict not in CUTS:
        said.append(("File", "none: do not cut this frame with any file."))
    else:
        own = "the plan's own, unchanged" if each.verdict == "cut it" else "new, not the plan's"
        said.append(("File", f"{each.frame.cut_name}, {own}."))
        said.append(("Marks", mark_reading(plan)))
        said.append(
            (
                "Sheet",
                f"load it as the proof says: same edge first, same side up.{_laid(plan, each)}",
            )
        )
    return Says(title="Run card", each=tuple(said), lead_mm=11.0)


def _laid(plan: PlanFolder, each: FrameFit) -> str:
    """By which two marks a sheet is laid straight, where the cutter does not turn its file."""
    if plan.model.corrects != "none" or each.frame is None or each.fitted is None:
        return ""
    far = lined_up_by(each.frame.marks_mm)
    marks = each.frame.marks_mm
    if each.verdict == "cut it corrected":
        marks = each.fitted.placed_mm(each.frame)
    across, along = marks[far] - marks[0]
    first, other = each.frame.numbers[[0, far]].tolist()
    return (
        f" Lay it so that mark {other} lies {figures.fixed(across, 2)} mm across and "
        f"{figures.fixed(along, 2)} mm along from mark {first}."
    )


def mark_reading(plan: PlanFolder) -> str:
    """Whether the cutter must read its marks, and why."""
    corrects = plan.model.corrects
    if corrects == "none":
        return (
            "set the origin on mark 1; this cutter corrects nothing else, the file holds the whole "
            "correction."
        )
    return (
        f"mark reading on. The cutter's own fit ({corrects}) takes up its share; the file holds "
        "only what that leaves, so nothing is corrected twice."
    )


def tables(each: FrameFit) -> list[Block]:
    """Marks, and the fits that were tried."""
    if each.frame is None or each.fitted is None:
        return []
    return [_marks_table(each, each.fitted), _fits_table(each.fitted)]


def _marks_table(each: FrameFit, fitted: Fitted) -> Table:
    assert each.frame is not None, "what was fitted is a frame"
    shift = fitted.printed_mm - each.frame.marks_mm[fitted.rows]
    off = np.hypot(*fitted.left_mm.T)
    rows = [
        (
            str(each.frame.numbers[row]),
            figures.fixed(shift[k, 0], 2),
            figures.fixed(shift[k, 1], 2),
            figures.fixed(fitted.left_mm[k, 0], 2),
            figures.fixed(fitted.left_mm[k, 1], 2),
            figures.fixed(off[k], 2),
        )
        for k, row in enumerate(fitted.rows.tolist())
    ][:MARKS_MOST]
    worst = int(off.argmax())
    return Table(
        title="Marks, mm",
        columns=(
            Column(name="mark", align="right"),
            Column(name="print x", align="right"),
            Column(name="y", align="right"),
            Column(name="left x", align="right"),
            Column(name="y", align="right"),
            Column(name="in all", align="right"),
        ),
        rows=tuple(rows),
        strong=frozenset([worst] if worst < MARKS_MOST else []),
        after="Print: the sheet turned back, less the plan. Left: what the fit does not take up.",
    )


def _fits_table(fitted: Fitted) -> Table:
    choice = fitted.choice
    rows = []
    for tried in choice.tried:
        beaten = "" if tried.f_chance is None else _short(tried.f_chance)
        rows.append(
            (
                tried.kind,
                str(tried.figures),
                figures.fixed(tried.rms_mm, 2 if tried.rms_mm < 10 else 0),
                _short(tried.chance),
                beaten,
            )
        )
    chosen = [index for index, tried in enumerate(choice.tried) if tried.kind == choice.kind]
    return Table(
        title=f"Fits tried: {choice.kind} does",
        columns=(
            Column(stretch=True),
            Column(name="figures", align="right"),
            Column(name="rms mm", align="right"),
            Column(name="by noise", align="right"),
            Column(name="F test", align="right"),
        ),
        rows=tuple(rows),
        strong=frozenset(chosen),
        after="By noise: chance that noise alone leaves as much (chi-square; the shop's figures). "
        "F test: chance that noise alone makes a richer fit as much better.",
    )


def _short(share: float) -> str:
    if share >= 0.0005:
        return f"{100 * share:.1f} %"
    return "< 1e-9" if share < 1e-9 else f"{share:.0e}".replace("e-0", "e-")


def cautions() -> Says:
    """What may hurt whoever cuts."""
    return Says(
        title="Cautions",
        each=(("Blades", BLADES), ("Carriage", CARRIAGE)),
        last=LAST_WORD,
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
