"""The customer's prices as one table; its form follows how many decals and quantities there are."""

from collections.abc import Sequence

from nestplan.cost import Price
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import count
from nestplan.files.proof_table import CELL_GAP_MM, Column, Table
from nestplan.job import Job
from nestplan.quote.amounts import amount, share
from nestplan.quote.figure_column import figure_column
from nestplan.quote.quote import Offer, Quote

ROUNDED = "The price of one is rounded by itself"
TABLE_PT, ROW_MM = 8.5, 5.2
AIR_MM = 2.0  # between columns of quantities
NAME_LEAST_MM = 34.0  # of a decal's name beside columns of prices

Cells = tuple[str, ...]


def price_table(quote: Quote, width_mm: float) -> Table:
    """The table. raises: Fault where its columns do not fit side by side."""
    if len(quote.offers) == 1:
        return _one_quantity(quote)
    if len(quote.decals) == 1:
        return _one_decal(quote)
    return _each_at_each(quote, width_mm)


def _one_quantity(quote: Quote) -> Table:
    """A row a decal, and what they come to."""
    price = quote.offers[0].priced.price
    rows: list[Cells] = [
        (str(k), decal.name, str(decal.copies), amount(decal.one), amount(decal.net))
        for k, decal in enumerate(price.decals, start=1)
    ]
    sums = [("", name, "", "", said) for name, said in _sums(price)]
    return Table(
        title=f"Price, amounts in {quote.currency}",
        columns=(
            Column(align="right", quiet=True),
            Column(name="decal", stretch=True),
            *(
                figure_column(name, [row[k] for row in (*rows, *sums)], TABLE_PT)
                for k, name in enumerate(("copies", "price of one", "price"), start=2)
            ),
        ),
        rows=(*rows, *sums),
        strong=frozenset({len(rows) + len(sums) - 1}),
        row_mm=ROW_MM,
        size_pt=TABLE_PT,
        after=_after(quote),
    )


def _one_decal(quote: Quote) -> Table:
    """A row a quantity."""
    taxed = any(offer.priced.price.tax.percent for offer in quote.offers)
    rows = [_quantity_row(offer, taxed=taxed) for offer in quote.offers]
    names = ["price of one", *(["before tax", _tax(quote.offers[0].priced.price)] if taxed else [])]
    return Table(
        title=f"Prices, amounts in {quote.currency}",
        columns=(
            Column(name="copies", align="right"),
            *(Column(name=name, align="right") for name in (*names, "to pay")),
        ),
        rows=tuple(rows),
        row_mm=ROW_MM,
        size_pt=TABLE_PT,
        after=_after(quote),
    )


def _quantity_row(offer: Offer, *, taxed: bool) -> Cells:
    price = offer.priced.price
    before = (amount(price.net), amount(price.tax.amount)) if taxed else ()
    return (str(offer.priced.copies), amount(price.one), *before, amount(price.gross))


def _each_at_each(quote: Quote, width_mm: float) -> Table:
    """A row a decal, a column a quantity: the price of one, and what all come to."""
    prices = [offer.priced.price for offer in quote.offers]
    rows: list[Cells] = [
        (str(k + 1), name, *(amount(price.decals[k].one) for price in prices))
        for k, name in enumerate(decal.name for decal in prices[0].decals)
    ]
    sums: list[Cells] = [
        ("", each[0][0], *(said for _, said in each))
        for each in zip(*(_sums(price) for price in prices), strict=True)
    ]
    names = [f"{price.decals[0].copies} of each" for price in prices]
    columns = [
        figure_column(name, [row[k] for row in (*rows, *sums)], TABLE_PT, AIR_MM)
        for k, name in enumerate(names, start=2)
    ]
    _refuse_wide(quote.job, columns, width_mm)
    return Table(
        title=f"Price of one, and of all, amounts in {quote.currency}",
        columns=(
            Column(align="right", quiet=True),
            Column(name="decal", stretch=True),
            *columns,
        ),
        rows=(*rows, *sums),
        strong=frozenset({len(rows) + len(sums) - 1}),
        row_mm=ROW_MM,
        size_pt=TABLE_PT,
        after=_after(quote),
    )


def refuse_quantities(job: Job, quantities: Sequence[int], width_mm: float) -> None:
    """raises: Fault where so many do not fit side by side, whatever they will cost.

    Fonts must be registered.
    """
    if len(job.order.decal) > 1 and len(quantities) > 1:
        least = [
            figure_column(f"{number} of each", ["0.00"], TABLE_PT, AIR_MM) for number in quantities
        ]
        _refuse_wide(job, least, width_mm)


def _refuse_wide(job: Job, columns: list[Column], width_mm: float) -> None:
    """raises: Fault where names of decals would be cut to nothing."""
    room, fit = width_mm - NAME_LEAST_MM - 2 * CELL_GAP_MM, 0
    for column in columns:
        room -= (column.width_mm or 0.0) + CELL_GAP_MM
        fit += int(room >= 0)
    if fit < len(columns):
        raise Fault(
            what=f"prices at {len(columns)} quantities do not fit side by side on the page",
            where=f"the quote of {job.path}",
            do=f"ask for {count(fit, 'quantity', 'quantities')} at most",
            code=OUT_OF_REACH,
        )


def _sums(price: Price) -> list[tuple[str, str]]:
    if not price.tax.percent:
        return [("to pay", amount(price.gross))]
    return [
        ("before tax", amount(price.net)),
        (_tax(price), amount(price.tax.amount)),
        ("to pay", amount(price.gross)),
    ]


def _tax(price: Price) -> str:
    return f"tax {share(price.tax.percent)}"


def _after(quote: Quote) -> str:
    """What the prices have in them, as the customer may know it."""
    off = [
        f"{share(each.percent)} {each.what.removeprefix('discount ')}"
        for offer in quote.offers
        for each in offer.priced.price.discounts
    ]
    taxed = any(offer.priced.price.tax.percent for offer in quote.offers)
    one = "The price of one is before tax and rounded by itself" if taxed else ROUNDED
    said = f" Taken off already: {', '.join(dict.fromkeys(off))}." if off else ""
    return f"{one}; what is paid is the price of all.{said}"
