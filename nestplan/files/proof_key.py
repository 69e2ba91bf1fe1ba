"""The key of a drawing: what each line and sign means, drawn with the very styles it uses."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nestplan.files.proof_drawing import TAB_BAR_MM, hatch
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    ANEW,
    BAND,
    BODY_PT,
    CLEAR,
    CUT,
    ENTERS,
    FILM,
    FILM_BREAK,
    FILM_EDGE,
    FRAME,
    GONE,
    INK,
    KISS,
    PAPER,
    PRINTABLE,
    SAFE,
    SLUG,
    TAB,
    THROUGH,
    WEED,
    WHITE,
    Stroke,
)
from nestplan.files.proof_text import width_mm as text_mm
from nestplan.job import Job, white_order
from nestplan.marks import needs_white

SIGN_MM = 7.0
ROW_MM = 4.4
KEY_MM = 9.0  # room for the word itself
APART_MM = 5.0

Sign = Callable[[Sheet, Box], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """Signs and their meanings, running on like words under a drawing."""

    each: tuple[tuple[Sign, str], ...]

    def height_mm(self, width_mm: float) -> float:
        """As many rows as the signs need."""
        return ROW_MM * len(self._rows(width_mm)) + 1.0

    def draw(self, sheet: Sheet, x_mm: float, bottom_mm: float, width_mm: float) -> None:
        """Draw it from its lower left corner."""
        y = bottom_mm + self.height_mm(width_mm) - 1.0
        sheet.text(x_mm, y - ROW_MM / 2 - 0.95, "Key", bold=True)
        for row in self._rows(width_mm):
            for x, sign, meaning in row:
                sign(sheet, (x_mm + x, y - ROW_MM + 0.7, x_mm + x + SIGN_MM, y - 0.7))
                sheet.text(x_mm + x + SIGN_MM + 1.8, y - ROW_MM / 2 - 0.95, meaning)
            y -= ROW_MM

    def _rows(self, width_mm: float) -> list[list[tuple[float, Sign, str]]]:
        rows: list[list[tuple[float, Sign, str]]] = [[]]
        x = KEY_MM
        for sign, meaning in self.each:
            wide = SIGN_MM + 1.8 + text_mm(meaning, BODY_PT)
            if rows[-1] and x + wide > width_mm:
                rows.append([])
                x = KEY_MM
            rows[-1].append((x, sign, meaning))
            x += wide + APART_MM
        return rows


def run_key(
    *,
    kinds: Sequence[str],
    spoiled: bool,
    bands: bool,
    several: bool,
    anew: bool,
    gone: bool,
    white: str,
) -> Key:
    """What the drawing of a whole run shows. several: the run is drawn in several pieces."""
    signs: list[tuple[Sign, str]] = [
        (_line(FILM_EDGE), "film edge"),
        *([(_line(FILM_BREAK), "the film goes on")] if several else []),
        (_line(PRINTABLE), "printable width"),
        (_frame, "frame"),
        *_cuts(kinds),
        *_anew(anew),
        (_mark, "mark"),
        (_slug, "printed words, 100 mm bars"),
        *([(_line(BAND), "between bands of one decal")] if bands else []),
        *([(hatch, "spoiled film")] if spoiled else []),
        *_gone(gone),
        *([(_white, white)] if white else []),
    ]
    return Key(each=tuple(signs))


def frame_key(
    *, kinds: Sequence[str], spoiled: bool, bands: bool, anew: bool, gone: bool, white: str
) -> Key:
    """What the drawing of one frame shows."""
    signs: list[tuple[Sign, str]] = [
        (_line(ENTERS), "enters the cutter first"),
        (_first, "first mark"),
        (_ring, "mark in its clear zone"),
        (_zone, "where a mark's centre may stand"),
        *_cuts(kinds),
        *_anew(anew),
        (_start, "the knife goes down first"),
        (_slug, "printed words, 100 mm bars"),
        (_line(PRINTABLE), "printable width"),
        (_line(FILM_BREAK), "the film goes on"),
        *([(_line(BAND), "between bands of one decal")] if bands else []),
        *([(hatch, "spoiled film")] if spoiled else []),
        *_gone(gone),
        *([(_white, white)] if white else []),
    ]
    return Key(each=tuple(signs))


def white_key(job: Job) -> str:
    """What the white fields of a run are; empty where it has none."""
    if not needs_white(job.roll):
        return ""
    last = white_order(job.order) == "over"
    return "white round marks" if last else "white below marks, words, bars"


def _cuts(kinds: Sequence[str]) -> list[tuple[Sign, str]]:
    known = {
        "kiss": (_line(KISS), "kiss cut, film only"),
        "through": (_line(THROUGH), "through cut, film and liner"),
        "weed": (_line(WEED), "weed line, film only"),
        "tab": (_tab, "tab: left uncut"),
    }
    return [sign for kind, sign in known.items() if kind in kinds]


def _tab(sheet: Sheet, box: Box) -> None:
    x, y = _centre(box)
    _line(THROUGH)(sheet, box)
    sheet.line([(x, y - TAB_BAR_MM / 2), (x, y + TAB_BAR_MM / 2)], TAB)


def _gone(shown: bool) -> list[tuple[Sign, str]]:
    return [(_torn, "no film here")] if shown else []


def _white(sheet: Sheet, box: Box) -> None:
    sheet.disc(*_centre(box), 1.35, PAPER, WHITE)


def _torn(sheet: Sheet, box: Box) -> None:
    left, bottom, right, top = box
    sheet.area([[(left, bottom), (right - 2, bottom), (right, top), (left, top)]], GONE)
    sheet.line([(right - 2, bottom), (right, top)], FILM_EDGE)


def _anew(shown: bool) -> list[tuple[Sign, str]]:
    return [(_halo, "new or moved since the former plan")] if shown else []


def _halo(sheet: Sheet, box: Box) -> None:
    inner = box[0] + 0.8, box[1] + 0.5, box[2] - 0.8, box[3] - 0.5
    sheet.box(inner, PAPER, ANEW)
    sheet.box(inner, None, KISS)


def _line(stroke: Stroke) -> Sign:
    def draw(sheet: Sheet, box: Box) -> None:
        middle = (box[1] + box[3]) / 2
        sheet.line([(box[0], middle), (box[2], middle)], stroke)

    return draw


def _frame(sheet: Sheet, box: Box) -> None:
    sheet.box(box, FILM)
    sheet.box((box[0] + 1.2, box[1], box[2] - 1.2, box[3]), PAPER, FRAME)


def _centre(box: Box) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _mark(sheet: Sheet, box: Box) -> None:
    sheet.disc(*_centre(box), 0.45, INK)


def _ring(sheet: Sheet, box: Box) -> None:
    sheet.disc(*_centre(box), 0.45, INK)
    sheet.disc(*_centre(box), 1.35, None, CLEAR)


def _first(sheet: Sheet, box: Box) -> None:
    sheet.disc(*_centre(box), 0.45, INK)
    sheet.disc(*_centre(box), 1.35, None, Stroke(colour=ACCENT, width_pt=0.9))


def _zone(sheet: Sheet, box: Box) -> None:
    sheet.box(box, SAFE)


def _slug(sheet: Sheet, box: Box) -> None:
    left, bottom, right, top = box
    sheet.line([(left, top), (left, bottom), (left + 3, bottom), (left + 3, top)], SLUG)
    sheet.box((left + 4.2, bottom, right, top), None, SLUG)


def _start(sheet: Sheet, box: Box) -> None:
    x, y = _centre(box)
    sheet.disc(x - 1.5, y, 0.75, PAPER, Stroke(colour=CUT, width_pt=0.7))
    sheet.disc(x - 1.5, y, 0.3, CUT)
    sheet.arrow((x - 0.75, y), (x + 1.7, y), Stroke(colour=CUT, width_pt=0.7))
