"""A label for a roll or remnant: what it is, what is left, where it is spoiled, and a code.

The code (ISO/IEC 18004) says `nestplan stock ID film`; a scanner at a desk can so name the piece.
"""

import io

import segno
from reportlab.pdfgen.canvas import Canvas

from nestplan.figures import count, short
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    CUT,
    FILM,
    FILM_BREAK,
    FILM_EDGE,
    GREY,
    HAIRLINE,
    INK,
    PT_PER_MM,
)
from nestplan.files.proof_text import fitted
from nestplan.stock.book import UM_PER_MM, metres
from nestplan.stock.enter import SPLICE_UM
from nestplan.stock.shelf import OnShelf, Spoilt

WIDE_MM, TALL_MM = 100.0, 60.0
EDGE_MM = 5.0
CODE_MM, QUIET = 27.0, 4  # side without the quiet zone; modules of it, as the standard asks
STRIP_MM = 5.0
SPOILT_MOST = 3  # lines of them; more are in the list
CODE_BYTES = 84  # of version 5 at level M: ISO/IEC 18004, table 7


def code_words(each: OnShelf) -> str:
    """What the code says."""
    words = f"nestplan stock {each.piece.id} {one_line(each.piece.film)}"
    return words.encode()[:CODE_BYTES].decode(errors="ignore").rstrip()


def label_pdf(pieces: list[OnShelf], version: str) -> bytes:
    """A page a piece, 100 × 60 mm; the same pieces give the same bytes."""
    register_fonts()
    held = io.BytesIO()
    canvas = Canvas(held, initialFontName=BODY, invariant=1)  # type: ignore[arg-type] # stub says float
    canvas.setTitle(f"Stock labels: {', '.join(each.piece.id for each in pieces)}")
    canvas.setCreator(f"nestplan {version}")
    for each in pieces:
        canvas.setPageSize((WIDE_MM * PT_PER_MM, TALL_MM * PT_PER_MM))
        _label(Sheet(canvas=canvas, width_mm=WIDE_MM, height_mm=TALL_MM), each)
        canvas.showPage()
    canvas.save()
    return held.getvalue()


def _label(sheet: Sheet, each: OnShelf) -> None:
    room = WIDE_MM - 2 * EDGE_MM - CODE_MM - 5
    sheet.text(EDGE_MM, 46.5, each.piece.id, size_pt=30, bold=True)
    _line(sheet, 38.6, each.piece.film, 11.5, room, bold=True)
    width = f"{short(each.piece.width_um / UM_PER_MM, 1)} mm wide"
    _line(sheet, 32.6, width, 9, room)
    _line(sheet, 26.4, f"{metres(each.left_um)} left", 12, room, bold=True)
    kind = f"remnant, cut off {each.piece.parent}" if each.is_remnant else "roll"
    since = f"{kind}; booked to {each.last_at[:10]}, no. {each.last_no}"
    _line(sheet, 21.8, " · ".join(filter(None, (since, each.piece.note))), 6, room, colour=GREY)
    _code(sheet, code_words(each), WIDE_MM - EDGE_MM - CODE_MM, TALL_MM - EDGE_MM - CODE_MM)
    _strip(sheet, each)


def _line(
    sheet: Sheet,
    y_mm: float,
    words: str,
    size_pt: float,
    room_mm: float,
    *,
    bold: bool = False,
    colour: str = INK,
) -> None:
    said = fitted(one_line(words), size_pt, room_mm, bold)
    sheet.text(EDGE_MM, y_mm, said, size_pt=size_pt, bold=bold, colour=colour)


def _strip(sheet: Sheet, each: OnShelf) -> None:
    """The film from its leading edge on, spoiled stretches where they lie."""
    bottom, top = 11.4, 11.4 + STRIP_MM
    left, right = EDGE_MM, WIDE_MM - EDGE_MM
    sheet.box((left, bottom, right, top), FILM, HAIRLINE)
    sheet.line([(left, bottom - 1), (left, top + 1)], FILM_EDGE)
    sheet.line([(right, bottom), (right, top)], FILM_BREAK)
    if each.left_um > 0:
        for spoilt in each.spoilt:
            low, high = (
                left + (right - left) * min(1.0, at / each.left_um)
                for at in (spoilt.from_um, spoilt.to_um)
            )
            sheet.box((low, bottom, max(high, low + 0.5), top), CUT)
    sheet.text(left, 8.6, "leading edge", size_pt=5.2, colour=GREY)
    sheet.text(right, 8.6, "core", size_pt=5.2, colour=GREY, align="right")
    words = [_words(spoilt) for spoilt in each.spoilt[:SPOILT_MOST]]
    if len(each.spoilt) > SPOILT_MOST:
        more = count(len(each.spoilt) - SPOILT_MOST, "further one")
        words.append(f"{more} in the list")
    said = "; ".join(words) or "nothing spoiled is known"
    sheet.text(
        left, 4.6, fitted(said, 6.6, right - left, bool(words)), size_pt=6.6, bold=bool(words)
    )


def _words(spoilt: Spoilt) -> str:
    if spoilt.to_um - spoilt.from_um <= SPLICE_UM:
        return f"{spoilt.kind} {metres((spoilt.from_um + spoilt.to_um) // 2)}"
    return f"{spoilt.kind} {metres(spoilt.from_um)} to {metres(spoilt.to_um)}"


def _code(sheet: Sheet, words: str, left: float, bottom: float) -> None:
    """Dark squares, merged along each row, so that no hairline shows between two of them."""
    code = segno.make_qr(words, error="m", mode="byte", encoding="utf-8", boost_error=False)
    modules = [list(row) for row in code.matrix]
    side = CODE_MM / len(modules)
    for at, row in enumerate(modules):
        top = bottom + CODE_MM - at * side
        begin = None
        for k, dark in enumerate([*row, 0]):
            if dark and begin is None:
                begin = k
            elif not dark and begin is not None:
                sheet.box((left + begin * side, top - side, left + k * side, top), INK)
                begin = None
