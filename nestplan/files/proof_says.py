"""Paragraphs of the proof: each behind a word in bold."""

from dataclasses import dataclass, replace

from nestplan.files.proof_block import HEAD_MM, Block, continued, heading
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import BODY_PT, INK
from nestplan.files.proof_text import wrapped

LINE_MM = 3.3  # from baseline to baseline
BETWEEN_MM = 1.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Says:
    """Headed paragraphs.

    each: a word in bold and its text; where `lead_mm` is zero the word has its own line.
    last: closes the block in bold. loud: colour of a leading word, ink where it has none.
    """

    title: str
    each: tuple[tuple[str, str], ...]
    lead_mm: float = 0.0
    last: str = ""
    loud: tuple[tuple[str, str], ...] = ()

    def height_mm(self, width_mm: float) -> float:
        """Heading and every line."""
        lines = sum(len(self._lines(lead, text, width_mm)) for lead, text in self.each)
        lines += len(wrapped(self.last, BODY_PT, width_mm, bold=True))
        return HEAD_MM + lines * LINE_MM + BETWEEN_MM * (len(self.each) - 1 + bool(self.last))

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, self.title, x_mm, top_mm, width_mm)
        y = top_mm - HEAD_MM - 2.4
        for lead, text in self.each:
            colour = dict(self.loud).get(lead, INK)
            sheet.text(x_mm, y, lead, bold=True, colour=colour)
            for line in self._lines(lead, text, width_mm):
                sheet.text(x_mm + self.lead_mm, y, line)
                y -= LINE_MM
            y -= BETWEEN_MM
        for line in wrapped(self.last, BODY_PT, width_mm, bold=True):
            sheet.text(x_mm, y, line, bold=True)
            y -= LINE_MM

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """As many paragraphs as there is room for, then the rest."""
        fit = len(self.each) - 1
        while (
            fit > 0 and replace(self, each=self.each[:fit], last="").height_mm(width_mm) > room_mm
        ):
            fit -= 1
        if fit <= 0:
            return None
        return (
            replace(self, each=self.each[:fit], last=""),
            replace(self, title=continued(self.title), each=self.each[fit:]),
        )

    def _lines(self, lead: str, text: str, width_mm: float) -> tuple[str, ...]:
        lines = wrapped(text, BODY_PT, width_mm - self.lead_mm) or ("",)
        return lines if self.lead_mm or not lead else ("", *lines)
