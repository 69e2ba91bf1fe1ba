"""One page a frame: the verdict in large type, arrows, run card, tables, cautions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.files.proof_block import Block
from nestplan.files.proof_key import Key, Sign
from nestplan.files.proof_page import Divided, Info, body_of, divided, draw_words
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import GUTTER_MM
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
from nestplan.fit.fit_words import cautions, run_card, tables, verdict_block
from nestplan.fit.fitted import Fitted
from nestplan.fit.frame_fit import FrameFit
from nestplan.fit.maps import Array, design
from nestplan.fit.plan_folder import PlanFolder

WITHIN_95 = 2.447747  # radius of 95 % of a round normal error, in standard deviations


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
        return
    left, bottom, right, top = page.words  # nothing to draw: the words begin the page
    body = body_of(page.paper_mm)
    draw_words(sheet, page.info, (left, body[3] - (top - bottom), right, body[3]), page.columns)


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
    wide = (verdict_block(each),)
    narrow: list[Block] = [run_card(plan, each), *tables(each), cautions()]
    fewer: list[Block] = [run_card(plan, each), cautions()]
    these = tuple(tables(each))
    return [
        Info(wide=wide, narrow=tuple(narrow)),
        Info(
            wide=wide,
            narrow=(*fewer[:1], *these[:1], *fewer[1:]),
            moved_narrow=these[1:],
            weight=0.6,
        ),
        Info(wide=wide, narrow=tuple(fewer), moved_narrow=these, weight=0.5),
    ]
