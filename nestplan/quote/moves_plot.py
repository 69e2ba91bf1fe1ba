"""The figures that move a price most: bars to both sides of it, a tenth less and a tenth more."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nestplan import figures
from nestplan.cost import Move
from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import ACCENT, BODY_PT, GREY, HALO, INK, SMALL_PT, Stroke
from nestplan.files.proof_text import fitted, width_mm, wrapped
from nestplan.quote.amounts import MINUS, amount

SHOWN = 3
ROW_MM, BAR_MM = 9.0, 4.2
NAME_MM = 62.0
ENDS_MM = 27.0  # the price and its change, beyond either end of a bar
LINE_MM = 2.9
PRICE = Stroke(colour=INK, width_pt=0.7)
LESS, MORE = HALO, ACCENT


@dataclass(frozen=True, slots=True, kw_only=True)
class MovesPlot:
    """A block. moves: the one that does most first. net: the price as it is, before tax."""

    moves: Sequence[Move]
    net: Decimal
    currency: str

    def height_mm(self, width_mm: float) -> float:
        """Heading, a row a figure, what else moves it."""
        return HEAD_MM + ROW_MM * len(self.shown) + LINE_MM * len(self._lines(width_mm)) + 1.0

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """One plot."""
        return None

    @property
    def shown(self) -> Sequence[Move]:
        """Those that have a bar."""
        return self.moves[:SHOWN]

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, "What moves the price most", x_mm, top_mm, width_mm)
        self._legend(sheet, x_mm + width_mm, top_mm - 2.7)
        left, right = x_mm + NAME_MM + ENDS_MM, x_mm + width_mm - ENDS_MM
        middle, y = (left + right) / 2, top_mm - HEAD_MM
        most = max((move.reach(self.net) for move in self.shown), default=Decimal(1))
        for move in self.shown:
            self._row(sheet, move, x_mm, y)
            for value, fill in ((move.less, LESS), (move.more, MORE)):
                if value is None or value == self.net:
                    continue
                end = middle + (right - left) / 2 * float((value - self.net) / most)
                low = y - (ROW_MM + BAR_MM) / 2
                sheet.box((min(middle, end), low, max(middle, end), low + BAR_MM), fill)
                up = value > self.net
                sheet.text(
                    end + (1.4 if up else -1.4),
                    y - ROW_MM / 2 - 0.9,
                    f"{amount(value)}   {_change(value, self.net)}",
                    size_pt=SMALL_PT,
                    align="left" if up else "right",
                )
            y -= ROW_MM
        if self.shown:
            sheet.line([(middle, top_mm - HEAD_MM - 1.0), (middle, y + 1.0)], PRICE)
        for line in self._lines(width_mm):
            y -= LINE_MM
            sheet.text(x_mm, y, line, size_pt=SMALL_PT, colour=GREY)

    def _row(self, sheet: Sheet, move: Move, x_mm: float, top: float) -> None:
        name = fitted(move.what, BODY_PT, NAME_MM, bold=True)
        sheet.text(x_mm, top - ROW_MM / 2 + 0.5, name, bold=True)
        about = "" if move.exact else ", about"
        said = f"{amount(move.now)} {move.unit}{about}"
        sheet.text(
            x_mm,
            top - ROW_MM / 2 - 2.6,
            fitted(said, SMALL_PT, NAME_MM),
            size_pt=SMALL_PT,
            colour=GREY,
        )

    def _legend(self, sheet: Sheet, right: float, y: float) -> None:
        for words, fill in (("a tenth more", MORE), ("a tenth less", LESS)):
            sheet.text(right, y, words, size_pt=SMALL_PT, colour=GREY, align="right")
            right -= width_mm(words, SMALL_PT) + 1.2
            sheet.box((right - 2.2, y - 0.2, right, y + 1.6), fill)
            right -= 2.2 + 4.0

    def _lines(self, width: float) -> list[str]:
        rest = [f"{move.what} {_reach(move, self.net)}" for move in self.moves[SHOWN:]]
        said = [
            f"The price is {amount(self.net)} {self.currency} before tax. Each figure is changed "
            "alone, and the price worked out anew from the same nest. A tenth more metres, hours "
            "or millilitres move it as a tenth of what one of them costs does."
        ]
        if rest:
            said.append(f"Then come, up or down by: {', '.join(rest)}.")
        if not all(move.exact for move in self.moves):
            said.append(
                "Spoilage changes how many copies are printed: film and hours are then taken in "
                "proportion to them."
            )
        return [line for words in said for line in wrapped(words, SMALL_PT, width)]


def _change(value: Decimal, net: Decimal) -> str:
    if not net:
        return ""
    share = float(100 * (value - net) / net)
    return f"{share:+z.1f} %".replace("-", MINUS)


def _reach(move: Move, net: Decimal) -> str:
    return str(figures.percent(float(100 * move.reach(net) / net), 1)) if net else ""
