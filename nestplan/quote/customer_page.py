"""The page for the customer: who asks, each decal to scale, prices, how long they hold, terms.

One page, in type of one size: what does not fit is said, and what to do. No cost, no margin and
no stage of the work stands on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import count
from nestplan.files.fonts import register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_art import with_art
from nestplan.files.proof_block import HEAD_MM, heading
from nestplan.files.proof_fields import Fields
from nestplan.files.proof_lengths import Lengths
from nestplan.files.proof_page import body_of
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_sheets import Page, drawn
from nestplan.files.proof_style import BODY_PT, GREY, PORTRAIT_MM, SMALL_PT, TITLE_PT
from nestplan.files.proof_table import Table
from nestplan.files.proof_text import width_mm, wrapped
from nestplan.job import Job, QuoteTerms
from nestplan.quote.pictures import Pictures, pictures
from nestplan.quote.price_table import price_table, refuse_quantities
from nestplan.quote.quote import Quote
from nestplan.quote.quote_json import number_of
from nestplan.quote.signs import refuse_signs

KIND = "Quote"
GAP_MM, AFTER_FACTS_MM = 6.0, 4.0
VALUE_PT, TERM_PT = 9.0, 7.6
FACT_MM, VALUE_LINE_MM = 10.0, 4.2  # a row of facts: its name, its value; more lines of it
ADDRESS_MM = 3.4  # a line of the address beyond the first
TERM_LINE_MM, TERM_GAP_MM = 3.7, 1.0
PICTURES_MOST_MM = 120.0

_Row = tuple[tuple[str, tuple[str, ...], float], ...]  # name, lines of the value, room in mm


def customer_pdf(quote: Quote) -> bytes:
    """The page as the bytes of a PDF. raises: Fault or Faults, where it cannot be set."""
    register_fonts()
    refuse_signs(quote.job, quote.terms)
    laid = _laid(quote)
    left, _, right, _ = body_of(PORTRAIT_MM)
    page = Page(
        paper_mm=PORTRAIT_MM,
        title=quote.terms.name,
        under="".join(_address(quote, right - left)[:1]),
        draw=lambda sheet: _draw(sheet, quote, laid),
        kind=KIND,
    )
    made = drawn([page], f"{one_line(quote.terms.name)}, quote {number_of(quote)}")
    about = {
        "/Title": one_line(f"{quote.terms.name}: quote {number_of(quote)}"),
        "/Producer": f"nestplan {quote.version}",
    }
    return with_art(made.pdf, made.forms, quote.decals, about)


def refuse_early(job: Job, terms: QuoteTerms, quantities: Sequence[int]) -> None:
    """raises: Fault or Faults where it is plain without a price that the page cannot be set."""
    register_fonts()
    refuse_signs(job, terms)
    left, _, right, _ = body_of(PORTRAIT_MM)
    refuse_quantities(job, quantities, right - left)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """What stands on the page. address: lines beyond the one in the header."""

    address: tuple[str, ...]
    facts: tuple[_Row, ...]
    pictures: Pictures
    table: Table
    terms: tuple[tuple[str, ...], ...]
    order: Fields


def _laid(quote: Quote) -> _Laid:
    left, bottom, right, top = body_of(PORTRAIT_MM)
    wide, tall = right - left, top - bottom
    if width_mm(quote.terms.name, TITLE_PT, True) > wide - width_mm(KIND, TITLE_PT) - 8.0:
        raise Fault(
            what="the shop's name is too long for the head of a quote",
            where=f"{quote.job.shop_path}, [quote], name",
            do="write it shorter, and the rest under address",
        )
    address, facts = _address(quote, wide)[1:], _facts(quote, wide)
    table, order = price_table(quote, wide), _order(quote)
    terms = tuple(wrapped(term, TERM_PT, wide) for term in _terms(quote))
    used = ADDRESS_MM * len(address) + sum(map(_row_mm, facts))
    used += table.height_mm(wide) + order.height_mm(wide) + AFTER_FACTS_MM + 3 * GAP_MM
    room = tall - used - _terms_mm(terms)
    say = Lengths(quote.job.order.show == "in")
    shown = pictures(quote.decals, say, wide, min(room, PICTURES_MOST_MM))
    if shown is None:
        raise _too_full(quote, tall, used, terms)
    return _Laid(
        address=address, facts=facts, pictures=shown, table=table, terms=terms, order=order
    )


def _too_full(quote: Quote, tall: float, used: float, terms: tuple[tuple[str, ...], ...]) -> Fault:
    """What does not fit on one page, and what would."""
    decals, offers = quote.decals, quote.offers
    left, _, right, _ = body_of(PORTRAIT_MM)
    say = Lengths(quote.job.order.show == "in")
    without = pictures(decals, say, right - left, tall - used)
    said = [count(len(decals), "decal"), count(len(offers), "quantity", "quantities")]
    do = "divide the job into smaller ones, and quote each"
    if without is not None:
        do = "shorten the terms under [quote]"
    elif len(offers) > 1:
        do = f"ask for fewer quantities, or {do}"
    lines = sum(map(len, terms))
    return Fault(
        what=f"{', '.join(said)} and {count(lines, 'line')} of terms do not fit on one page",
        where=f"the quote of {quote.job.path}",
        do=do,
        code=OUT_OF_REACH,
    )


def _draw(sheet: Sheet, quote: Quote, laid: _Laid) -> None:
    left, bottom, right, top = body_of(PORTRAIT_MM)
    wide = right - left
    for line in laid.address:
        sheet.text(left, top + 1.2, line, colour=GREY)
        top -= ADDRESS_MM
    for row in laid.facts:
        _draw_row(sheet, row, left, top)
        top -= _row_mm(row)
    top -= AFTER_FACTS_MM
    laid.pictures.draw(sheet, left, top, wide)
    top -= laid.pictures.height_mm() + GAP_MM
    laid.table.draw(sheet, left, top, wide)
    top -= laid.table.height_mm(wide) + GAP_MM
    heading(sheet, "Terms", left, top, wide)
    top -= HEAD_MM + 2.4
    for term in laid.terms:
        for line in term:
            sheet.text(left, top, line, size_pt=TERM_PT)
            top -= TERM_LINE_MM
        top -= TERM_GAP_MM
    laid.order.draw(sheet, left, bottom + laid.order.height_mm(wide), wide)


def _address(quote: Quote, wide: float) -> tuple[str, ...]:
    """In as few lines as hold it; what the shop wrote as one line stays on one."""
    lines: list[str] = []
    for part in map(one_line, quote.terms.address):
        longer = f"{lines[-1]} · {part}" if lines else part
        if lines and width_mm(longer, BODY_PT) <= wide:
            lines[-1] = longer
        else:
            lines += wrapped(part, BODY_PT, wide)
    return tuple(lines)


def _facts(quote: Quote, wide: float) -> tuple[_Row, ...]:
    """Who asks for what, on which film; no value is cut, long ones take more lines."""
    order = quote.job.order
    dates: tuple[tuple[str, str, float], ...] = (
        ("quote", number_of(quote), 0.24),
        ("date", quote.day.isoformat(), 0.15),
        ("holds until", quote.last_day.isoformat(), 0.15),
    )
    rows: tuple[tuple[tuple[str, str, float], ...], ...] = (
        (("job", order.name, 0.46), *dates),
        (("film", quote.film, 1.0),),
    )
    if order.customer is not None:
        rows = (
            (("for", order.customer, 0.46), *dates),
            (("job", order.name, 0.46), ("film", quote.film, 0.54)),
        )
    return tuple(
        tuple(
            (name, wrapped(value, VALUE_PT, part * wide - 4.0, True), part * wide)
            for name, value, part in row
        )
        for row in rows
    )


def _row_mm(row: _Row) -> float:
    return FACT_MM + VALUE_LINE_MM * (max(len(lines) for _, lines, _ in row) - 1)


def _draw_row(sheet: Sheet, row: _Row, left: float, top: float) -> None:
    for name, lines, room in row:
        sheet.text(left, top - 2.4, name, size_pt=SMALL_PT, colour=GREY)
        for k, line in enumerate(lines):
            y = top - 6.6 - k * VALUE_LINE_MM
            sheet.text(left, y, line, size_pt=VALUE_PT, bold=True)
        left += room


def _terms(quote: Quote) -> list[str]:
    return [f"This quote holds until {quote.last_day.isoformat()}.", *quote.terms.terms]


def _terms_mm(terms: tuple[tuple[str, ...], ...]) -> float:
    lines = sum(map(len, terms))
    return HEAD_MM + 1.0 + lines * TERM_LINE_MM + len(terms) * TERM_GAP_MM


def _order(quote: Quote) -> Fields:
    """Where the customer signs."""
    fields: tuple[tuple[str, float], ...] = (("name", 0.36), ("date", 0.2), ("signature", 0.44))
    if len(quote.offers) > 1:
        fields = (("copies", 0.16), ("name", 0.36), ("date", 0.2), ("signature", 0.28))
    return Fields(title=f"Ordered by quote {number_of(quote)}", rows=(fields,))
