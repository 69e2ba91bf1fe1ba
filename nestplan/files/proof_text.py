"""How wide words are, and how they are cut or wrapped to a width."""

from functools import lru_cache

from reportlab.pdfbase import pdfmetrics

from nestplan.files.fonts import BODY, BODY_BOLD
from nestplan.files.one_line import one_line
from nestplan.files.proof_style import PT_PER_MM

ELLIPSIS = "…"
KEPT = 20_000  # measured words are remembered: tables are measured often and say the same


def font(bold: bool) -> str:
    """The face for plain or bold words."""
    return BODY_BOLD if bold else BODY


@lru_cache(maxsize=KEPT)
def width_mm(words: str, size_pt: float, bold: bool = False) -> float:
    """How wide the words are set in one line."""
    return float(pdfmetrics.stringWidth(words, font(bold), size_pt)) / PT_PER_MM


def fitted(words: str, size_pt: float, room_mm: float, bold: bool = False) -> str:
    """The words, cut with an ellipsis where they are wider than the room."""
    words = one_line(words)
    if width_mm(words, size_pt, bold) <= room_mm:
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(words[:middle].rstrip() + ELLIPSIS, size_pt, bold) <= room_mm:
            low = middle
        else:
            high = middle - 1
    return words[:low].rstrip() + ELLIPSIS


@lru_cache(maxsize=KEPT)
def wrapped(words: str, size_pt: float, room_mm: float, bold: bool = False) -> tuple[str, ...]:
    """The words in lines no wider than the room; a word wider than a line is broken."""
    lines: list[str] = []
    line = ""
    for word in one_line(words).split():
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_pt, bold) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, size_pt, room_mm, bold)
        lines.extend(full)
    return (*lines, line) if line else tuple(lines)


def _pieces(word: str, size_pt: float, room_mm: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_mm(pieces[-1] + letter, size_pt, bold) > room_mm:
            pieces.append("")
        pieces[-1] += letter
    return pieces
