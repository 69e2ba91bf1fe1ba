"""What is wrong with a decal's art, circled and numbered on its picture, and told beside it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

from nestplan.artwork import ArtFault, Decal
from nestplan.figures import scale
from nestplan.files.proof_art import art_name, line_name
from nestplan.files.proof_block import HEAD_MM, Block, continued, heading
from nestplan.files.proof_scale import View, round_scale
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    BODY_PT,
    GREY,
    INK,
    KISS,
    PAPER,
    SMALL_PT,
    THROUGH,
    Stroke,
)
from nestplan.files.proof_text import wrapped
from nestplan.files.run import Run

RING = Stroke(colour=INK, width_pt=0.8)
RING_HALO = Stroke(colour=PAPER, width_pt=2.4)
TAG_EDGE = Stroke(colour=INK, width_pt=0.5)
RING_LEAST_MM = 1.6  # on paper: a circle that is seen
RING_SHARE = 0.3  # of the drawing: a larger circle tells nothing, the number alone does
TAG_MM = 1.7  # half width of the box with the number
PICTURE_SHARE = 0.38  # of the panel's width
PICTURE_TALL_MM = 85.0
GAP_MM = 6.0
LINE_MM = 3.3
LEAD_MM = 6.0
BETWEEN_MM = 1.6
ASIDE_DEG = (45, 135, 315, 225, 0, 90, 180, 270)


def fault_panels(run: Run) -> tuple[Block, ...]:
    """A block for each decal whose art is not in order, to be laid on pages of words."""
    return tuple(
        FaultPanel(decal=decal, index=index, faults=decal.faults, first=1)
        for index, decal in enumerate(run.artwork.decals)
        if decal.faults
    )


def draw_fault_markers(
    sheet: Sheet, faults: Sequence[ArtFault], view: View, most_mm: float, first: int = 1
) -> None:
    """Circle and number the places of faults on a drawing of their decal.

    view: decal coordinates on the page. most_mm: the drawing's smaller side, on paper.
    """
    circles = []
    for number, fault in enumerate(faults, start=first):
        x, y = view.at(fault.x_mm, fault.y_mm)
        radius = max(RING_LEAST_MM, 0.55 * fault.size_mm / view.denominator)
        circles.append((str(number), x, y, radius if radius <= RING_SHARE * most_mm else 0.0))
    for stroke in (RING_HALO, RING):
        for _, x, y, radius in circles:
            if radius:
                sheet.disc(x, y, radius, None, stroke)
    for words, x, y, radius in circles:
        _tag(sheet, words, x, y, radius)


def _tag(sheet: Sheet, number: str, x_mm: float, y_mm: float, radius_mm: float) -> None:
    """The number in a small box, beside its circle where there is room."""
    tries = [(x_mm, y_mm)] if not radius_mm else []
    for away in (0.0, 2.5, 5.0, 7.5):
        reach = radius_mm + away + 1.2 * TAG_MM
        tries += [
            (x_mm + reach * cos(radians(deg)), y_mm + reach * sin(radians(deg)))
            for deg in ASIDE_DEG
        ]
    for x, y in tries:
        if sheet.take((x - TAG_MM, y - TAG_MM, x + TAG_MM, y + TAG_MM)):
            break
    else:
        x, y = tries[0]
    if (x - x_mm) ** 2 + (y - y_mm) ** 2 > (radius_mm + 2 * TAG_MM) ** 2:
        sheet.line([(x_mm, y_mm), (x, y)], TAG_EDGE)
    sheet.box((x - TAG_MM, y - TAG_MM, x + TAG_MM, y + TAG_MM), PAPER, TAG_EDGE)
    sheet.text(x, y - 0.85, number, size_pt=BODY_PT, bold=True, align="centre")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaultPanel:
    """A decal's picture with numbered places, and what is wrong there.

    index: of the decal, from 0. first: the number of the first fault told here.
    """

    decal: Decal
    index: int
    faults: tuple[ArtFault, ...]
    first: int
    title: str = ""

    def height_mm(self, width_mm: float) -> float:
        """The taller of picture and words, under the heading."""
        words = sum(self._tall_mm(fault, width_mm) for fault in self.faults)
        return HEAD_MM + max(self._picture_mm(width_mm)[1] + 5.0, words)

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, self._title, x_mm, top_mm, width_mm)
        self._draw_picture(sheet, x_mm, top_mm - HEAD_MM, width_mm)
        left = x_mm + PICTURE_SHARE * width_mm + GAP_MM
        y = top_mm - HEAD_MM - 2.4
        for number, fault in enumerate(self.faults, start=self.first):
            sheet.text(left, y, str(number), bold=True)
            for line in self._lines(fault, width_mm):
                sheet.text(left + LEAD_MM, y, line)
                y -= LINE_MM
            for line in self._places(fault, width_mm):
                sheet.text(left + LEAD_MM, y, line, size_pt=SMALL_PT, colour=GREY)
                y -= LINE_MM
            y -= BETWEEN_MM

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """As many faults as there is room for, then the rest beside the picture again."""
        fit = len(self.faults) - 1
        while fit > 0 and self._first(fit).height_mm(width_mm) > room_mm:
            fit -= 1
        if fit <= 0:
            return None
        rest = replace(
            self,
            faults=self.faults[fit:],
            first=self.first + fit,
            title=continued(self._title),
        )
        return self._first(fit), rest

    def _first(self, fit: int) -> "FaultPanel":
        return replace(self, faults=self.faults[:fit])

    @property
    def _title(self) -> str:
        return self.title or self.decal.name

    def _words_mm(self, width_mm: float) -> float:
        return (1 - PICTURE_SHARE) * width_mm - GAP_MM - LEAD_MM

    def _lines(self, fault: ArtFault, width_mm: float) -> tuple[str, ...]:
        text = fault.text[:1].upper() + fault.text[1:]
        return wrapped(text, BODY_PT, self._words_mm(width_mm))

    def _places(self, fault: ArtFault, width_mm: float) -> tuple[str, ...]:
        return wrapped(f"{fault.level}: {fault.where}", SMALL_PT, self._words_mm(width_mm))

    def _tall_mm(self, fault: ArtFault, width_mm: float) -> float:
        lines = len(self._lines(fault, width_mm)) + len(self._places(fault, width_mm))
        return lines * LINE_MM + BETWEEN_MM

    def _picture_mm(self, width_mm: float) -> tuple[float, float, float]:
        """Width and height of the picture on paper, and the denominator of its scale."""
        contour, bleed = self.decal.contour, self.decal.bleed_mm
        wide, high = contour.width_mm + 2 * bleed, contour.height_mm + 2 * bleed
        room = PICTURE_SHARE * width_mm
        denominator = round_scale(max(wide / room, high / PICTURE_TALL_MM))
        return wide / denominator, high / denominator, denominator

    def _draw_picture(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        wide, high, denominator = self._picture_mm(width_mm)
        left, bottom, right, top = self.decal.contour.bounds_mm
        view = View(
            x0_mm=(left + right) / 2,
            y0_mm=(bottom + top) / 2,
            page_x_mm=x_mm + PICTURE_SHARE * width_mm / 2,
            page_y_mm=top_mm - high / 2,
            denominator=denominator,
        )
        onto = view.matrix(0.0, 0.0, 0.0)
        line = THROUGH if self.decal.cut == "through" else KISS
        sheet.form(art_name(self.decal, self.index), onto)
        sheet.form(line_name(self.index), onto, line)
        draw_fault_markers(sheet, self.faults, view, min(wide, high), self.first)
        sheet.text(
            x_mm + PICTURE_SHARE * width_mm / 2,
            top_mm - high - 3.4,
            f"{scale(denominator)}, with its bleed; the line is the contour",
            size_pt=SMALL_PT,
            colour=GREY,
            align="centre",
        )
