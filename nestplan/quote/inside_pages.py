"""The pages for the estimator, one a quantity: the waterfall, what moves the price, every line."""

from functools import partial

from nestplan import figures
from nestplan.cost import Line, waterfall
from nestplan.files.fonts import register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_art import with_art
from nestplan.files.proof_block import Block
from nestplan.files.proof_flow import draw_stack, stack_mm
from nestplan.files.proof_page import Info, body_of
from nestplan.files.proof_says import Says
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_sheets import Page, drawn, moved
from nestplan.files.proof_style import BLOCK_GAP_MM, BODY_PT, PORTRAIT_MM
from nestplan.files.proof_table import Column, Table
from nestplan.price_words import amount_and_rate
from nestplan.quote.amounts import amount, share
from nestplan.quote.figure_column import figure_column
from nestplan.quote.moves_plot import MovesPlot
from nestplan.quote.quote import Offer, Quote
from nestplan.quote.quote_json import number_of
from nestplan.quote.waterfall_plot import WaterfallPlot

KIND = "Inside"
PLOT_LEAST_MM, PLOT_MOST_MM = 62.0, 88.0
LINE_ROW_MM = 3.5
FILM_NAME_MOST = 34  # letters
NOTE_LEAD_MM = 10.0


def inside_pdf(quote: Quote) -> bytes:
    """The pages as the bytes of a PDF."""
    register_fonts()
    pages = [page for offer in quote.offers for page in _pages(quote, offer)]
    source = (
        f"nestplan {quote.version}, {quote.job.path.name}, {quote.job.shop_path.name}, "
        f"seed {quote.seed}, {quote.steps} steps"
    )
    made = drawn(pages, one_line(source))
    about = {
        "/Title": one_line(f"{quote.job.order.name}: inside quote {number_of(quote)}"),
        "/Producer": f"nestplan {quote.version}",
    }
    return with_art(made.pdf, made.forms, (), about)


def _pages(quote: Quote, offer: Offer) -> list[Page]:
    """One page, and more for what finds no room on it."""
    left, bottom, right, top = body_of(PORTRAIT_MM)
    wide, room = right - left, top - bottom
    price = offer.priced.price
    moves = MovesPlot(moves=offer.moves, net=price.net, currency=quote.currency)
    lines = _lines(offer)
    here: list[Block] = [moves, lines]
    over: list[Block] = []

    def left_mm(blocks: list[Block]) -> float:
        return room - stack_mm(blocks, wide) - BLOCK_GAP_MM

    if left_mm(here) < PLOT_LEAST_MM:
        parts = lines.parted(wide, left_mm([moves]) - PLOT_LEAST_MM - BLOCK_GAP_MM)
        here = [moves] if parts is None else [moves, parts[0]]
        over = [lines if parts is None else parts[1]]
    for block in (*_notes(offer), _decals(offer)):
        if not over and left_mm([*here, block]) >= PLOT_LEAST_MM:
            here.append(block)
        else:
            over.append(block)
    plot = WaterfallPlot(
        bars=waterfall(price),
        net=price.net,
        currency=quote.currency,
        tall_mm=min(left_mm(here), PLOT_MOST_MM),
    )
    title, under = quote.job.order.name, _under(quote, offer)
    first = Page(
        paper_mm=PORTRAIT_MM,
        title=title,
        under=under,
        draw=partial(_draw, blocks=(plot, *here)),
        kind=KIND,
    )
    return [first, *moved(Info(moved_wide=tuple(over)), title, under, KIND)]


def _draw(sheet: Sheet, blocks: tuple[Block, ...]) -> None:
    left, _, right, top = body_of(PORTRAIT_MM)
    draw_stack(sheet, blocks, left, top, right - left)


def _under(quote: Quote, offer: Offer) -> str:
    each = offer.priced
    overs = sum(each.overs.extra)
    extra = f" and {figures.count(overs, 'over')}" if overs else ""
    customer = f" for {quote.job.order.customer}" if quote.job.order.customer else ""
    return one_line(
        f"Not for the customer. {figures.count(each.copies, 'copy', 'copies')}{extra}, "
        f"{figures.film(each.marks.length_used_mm)} of film; quote {number_of(quote)}{customer}."
    )


def _lines(offer: Offer) -> Table:
    """Every line of the cost, and the way to what is paid."""
    price = offer.priced.price
    rows: list[tuple[str, ...]] = []
    before = ""
    for line in price.account.lines:
        stage = line.stage if line.stage != before else ""
        before = line.stage
        much, rate = amount_and_rate(line)
        rows.append((stage, _what(line), much, rate, amount(line.cost)))
    strong = {len(rows)}
    rows.append(("cost", "", "", "", amount(price.cost)))
    for part, what, each in (
        ("margin", "", price.margin),
        *(("discount", each.what.removeprefix("discount "), each) for each in price.discounts),
    ):
        if each.percent:
            rows.append((part, what, share(each.percent), "", amount(each.amount)))
    strong.add(len(rows))
    rows.append(("price", "", "", f"{amount(price.one)} each", amount(price.net)))
    if price.tax.percent:
        tax = price.tax
        rows.append((tax.what, "", share(tax.percent), "", amount(tax.amount)))
        strong.add(len(rows))
        rows.append(("with tax", "", "", "", amount(price.gross)))
    return Table(
        title="Line by line",
        columns=(
            Column(),
            Column(name="what", stretch=True),
            *(
                figure_column(name, [row[k] for row in rows], BODY_PT)
                for k, name in enumerate(("amount", "rate", price.account.currency), start=2)
            ),
        ),
        rows=tuple(rows),
        strong=frozenset(strong),
        row_mm=LINE_ROW_MM,
        after=_after(offer),
    )


def _what(line: Line) -> str:
    """Of film the name is cut, where it is long, not what follows it."""
    name, comma, part = line.what.rpartition(", ")
    return f"{one_line(name, FILM_NAME_MOST)}{comma}{part}" if line.kind == "film" else line.what


def _after(offer: Offer) -> str:
    """What fills the film better, what such runs took so far."""
    fuller = offer.priced.fuller
    said = [*([] if fuller is None else [f"{fuller.words}"]), *offer.likely]
    return "; ".join(said) + "." if said else ""


def _notes(offer: Offer) -> list[Block]:
    """What in the job needs a person's eye before anything is promised."""
    each = dict.fromkeys(note for note in offer.priced.notes if note.level != "know")
    if not each:
        return []
    said = tuple((note.level, f"{note.where}: {note.text}") for note in each)
    return [Says(title="Before it is promised", each=said, lead_mm=NOTE_LEAD_MM)]


def _decals(offer: Offer) -> Table:
    """What each decal costs, and what is asked for it."""
    price = offer.priced.price
    planned = price.account.planned
    rows = [
        (
            str(k + 1),
            decal.name,
            str(decal.copies),
            str(planned[k]),
            amount(decal.cost),
            amount(decal.net),
            amount(decal.one),
        )
        for k, decal in enumerate(price.decals)
    ]
    return Table(
        title="By decal",
        columns=(
            Column(align="right", quiet=True),
            Column(name="decal", stretch=True),
            *(
                figure_column(name, [row[k] for row in rows], BODY_PT)
                for k, name in enumerate(
                    ("ordered", "planned", "cost", "price", "price of one"), start=2
                )
            ),
        ),
        rows=tuple(rows),
        row_mm=LINE_ROW_MM,
    )
