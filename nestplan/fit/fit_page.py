"""One page a frame: the verdict in large type, arrows, run card, tables, cautions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan import figures
from nestplan.files.proof_block import Block
from nestplan.files.proof_key import Key, Sign
from nestplan.files.proof_page import Divided, Info, divided, draw_words
from nestplan.files.proof_says import Says
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import CUT, GUTTER_MM
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_words import BLADES, CARRIAGE, LAST_WORD
from nestplan.fit.arrows import (
    Arrows,
    draw_arrows,
    drawing_scale,
    sign_absent,
    sign_arrow,
    sign_copy,
    sign_field,
    sign_usual,
    sign_worst,
)
from nestplan.fit.frame_fit import Fitted, FrameFit
from nestplan.fit.maps import Array, design
from nestplan.fit.odds import lined_up_by
from nestplan.fit.plan_folder import PlanFolder
from nestplan.fit.verdict import CUTS

WITHIN_95 = 2.447747  # radius of 95 % of a round normal error, in standard deviations
MARKS_MOST = 40  # rows of the table of marks; fit.json has them all


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """How pictures share their room. beside: side by side, else one above the other."""

    denominator: float
    beside: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitPage:
    """A divided page with all that stands on it."""

    each: FrameFit
    pictures: tuple[Arrows, ...]
    key: Key
    page: Divided[_Room]


def plan_fit_page(plan: PlanFolder, each: FrameFit) -> FitPage:
    """Divide a frame's page."""
    pictures = _pictures(each)
    key = Key(each=_signs(pictures))
    infos = _infos(plan, each)

    def fits(wide_mm: float, tall_mm: float) -> tuple[_Room, float] | None:
        frame = each.frame
        if frame is None:
            return _Room(denominator=1.0, beside=True), 1.0
        tall = tall_mm - key.height_mm(wide_mm)
        n = len(pictures)
        ways = [
            _Room(
                denominator=drawing_scale(
                    frame, plan.width_mm, (wide_mm - (n - 1) * GUTTER_MM) / n, tall
                ),
                beside=True,
            ),
            _Room(
                denominator=drawing_scale(
                    frame, plan.width_mm, wide_mm, (tall - (n - 1) * GUTTER_MM) / n
                ),
                beside=False,
            ),
        ]
        best = min(ways, key=lambda way: way.denominator)
        return (best, 1 / best.denominator) if np.isfinite(best.denominator) else None

    return FitPage(each=each, pictures=pictures, key=key, page=divided(infos, fits))


def draw_fit_page(sheet: Sheet, plan: PlanFolder, made: FitPage) -> None:
    """Draw the page's body."""
    page, frame = made.page, made.each.frame
    if frame is not None:
        left, bottom, right, top = page.drawing
        made.key.draw(sheet, left, bottom, right - left)
        bottom += made.key.height_mm(right - left)
        boxes = _boxes((left, bottom, right, top), len(made.pictures), page.fit.beside)
        for arrows, box in zip(made.pictures, boxes, strict=True):
            draw_arrows(sheet, frame, plan.width_mm, arrows, box, page.fit.denominator)
    draw_words(sheet, page.info, page.words, page.columns)


def _boxes(room: Box, n: int, beside: bool) -> list[Box]:
    left, bottom, right, top = room
    if beside:
        wide = (right - left - (n - 1) * GUTTER_MM) / n
        starts = [left + k * (wide + GUTTER_MM) for k in range(n)]
        return [(x, bottom, x + wide, top) for x in starts]
    tall = (top - bottom - (n - 1) * GUTTER_MM) / n
    tops = [top - k * (tall + GUTTER_MM) for k in range(n)]
    return [(left, y - tall, right, y) for y in tops]


def _pictures(each: FrameFit) -> tuple[Arrows, ...]:
    frame, fitted = each.frame, each.fitted
    none = np.zeros((0, 2))
    if frame is None or fitted is None:
        marks = frame.marks_mm if frame is not None else none
        return (
            Arrows(title="Marks as planned", at_mm=none, by_mm=none, names=(), absent_mm=marks),
        )
    planned = frame.marks_mm[fitted.rows]
    names = tuple(str(n) for n in frame.numbers[fitted.rows].tolist())
    absent = np.delete(frame.marks_mm, fitted.rows, axis=0)
    worst = int(np.hypot(*fitted.left_mm.T).argmax())
    odds = each.odds
    return (
        Arrows(
            title="Print against plan",
            at_mm=planned,
            by_mm=fitted.printed_mm - planned,
            names=names,
            absent_mm=absent,
            field=fitted.cut.shift_mm,
        ),
        Arrows(
            title=f"Left by the fit ({fitted.choice.kind})",
            at_mm=planned,
            by_mm=fitted.left_mm,
            names=names,
            absent_mm=absent,
            usual_mm=usual_left_mm(fitted, planned),
            worst=worst,
            copy=None if odds is None else odds.worst,
        ),
    )


def usual_left_mm(fitted: Fitted, planned_mm: Array) -> Array:
    """(n,) radius within which a sound print leaves 95 % of what the fit does not take up."""
    columns = design(fitted.choice.kind, planned_mm)
    rest = np.eye(len(columns)) - columns @ np.linalg.pinv(columns)
    sound = fitted.noise.grown(1 / fitted.choice.factor).covariance_mm2(planned_mm)
    left = np.diag(rest @ sound @ rest.T).reshape(-1, 2).mean(axis=1)
    return np.asarray(WITHIN_95 * np.sqrt(np.maximum(left, 0.0)))


def _signs(pictures: Sequence[Arrows]) -> tuple[tuple[Sign, str], ...]:
    last = pictures[-1]
    signs: list[tuple[Sign, str]] = []
    if last.names:
        signs += [(sign_arrow, "mark, and how far it is off")]
        signs += [(sign_worst, "worst mark")]
        signs += [(sign_usual, "where a sound print leaves 95 %")]
    if any(each.field is not None for each in pictures):
        signs += [(sign_field, "the fit between marks")]
    if len(last.absent_mm):
        signs += [(sign_absent, "mark not measured" if last.names else "mark")]
    if last.copy is not None:
        signs += [(sign_copy, "worst decal")]
    return tuple(signs)


def _infos(plan: PlanFolder, each: FrameFit) -> list[Info]:
    wide = (_verdict(each),)
    narrow: list[Block] = [_run_card(plan, each), *_tables(each), _cautions()]
    fewer: list[Block] = [_run_card(plan, each), _cautions()]
    tables = tuple(_tables(each))
    return [
        Info(wide=wide, narrow=tuple(narrow)),
        Info(
            wide=wide,
            narrow=(*fewer[:1], *tables[:1], *fewer[1:]),
            moved_narrow=tables[1:],
            weight=0.6,
        ),
        Info(wide=wide, narrow=tuple(fewer), moved_narrow=tables, weight=0.5),
    ]


def _verdict(each: FrameFit) -> Says:
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


def _run_card(plan: PlanFolder, each: FrameFit) -> Says:
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


def _tables(each: FrameFit) -> list[Block]:
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


def _cautions() -> Says:
    return Says(
        title="Cautions",
        each=(("Blades", BLADES), ("Carriage", CARRIAGE)),
        last=LAST_WORD,
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
