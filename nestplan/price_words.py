"""What `price` says: a table by quantity, every line of one, and the same for programs."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from nestplan import figures
from nestplan.cost import Account, Line, Price, estimate
from nestplan.plan_price import Priced
from nestplan.report import note_lines

HEAD = ("copies", "overs", "film m", "waste", "time", "cost", "price", "a decal", "one more")


def price_words(priced: Sequence[Priced]) -> str:
    """A table of prices, one line a quantity, and what in the job needs a person's eye."""
    first = priced[0]
    rows: list[tuple[str, ...]] = [HEAD]
    for before, each in zip((None, *priced[:-1]), priced, strict=True):
        rows.append(_row(before, each))
    widths = [max(len(row[k]) for row in rows) for k in range(len(HEAD))]
    table = ["  ".join(f"{cell:>{w}}" for cell, w in zip(row, widths, strict=True)) for row in rows]
    title = f"{first.job.order.name}, {first.job.roll.name}, amounts in {_currency(first)}"
    notes = dict.fromkeys(note for each in priced for note in each.notes if note.level != "know")
    lines = [title, "", *(f"  {line}" for line in table), "", *_told(priced)]
    return "\n".join([*lines, *note_lines(notes)])


def _row(before: Priced | None, each: Priced) -> tuple[str, ...]:
    price = each.price
    return (
        str(each.copies),
        str(sum(each.overs.extra)),
        figures.film(each.marks.length_used_mm).figure,
        str(figures.percent(each.waste_percent)),
        str(figures.duration(each.busy_s)),
        _money(price.cost, price),
        _money(price.net, price),
        _one(price.one, price),
        "" if before is None else _one(_step(before, each), price),
    )


def _step(before: Priced, each: Priced) -> Decimal:
    """What a copy more costs, from one quantity to the next, to a hundredth of a cent."""
    more = each.copies - before.copies
    hundredth = each.price.account.cent / 100
    return ((each.price.net - before.price.net) / more).quantize(hundredth, ROUND_HALF_UP)


def _told(priced: Sequence[Priced]) -> list[str]:
    """Margin, tax, what fills the web better, how sure the overs are."""
    first = priced[0].price
    said = ["price is before tax" if first.tax.percent else "price"]
    said.append(f"cost and {_percent(first.margin.percent)} margin" if first.margin.percent else "")
    if any(each.price.discounts for each in priced):
        said.append("less discounts")
    lines = [f"  {', '.join(word for word in said if word)}; time is of hands and machines"]
    for each in priced:
        if each.fuller is not None:
            lines.append(f"  {each.fuller.words}")
    if any(sum(each.overs.extra) for each in priced):
        chances = dict.fromkeys(_sure(each) for each in priced)
        lines.append(f"  overs: {'; '.join(chances)}")
    return lines


def _sure(each: Priced) -> str:
    if each.job.order.overs_percent is not None:
        return f"{_percent(each.job.order.overs_percent)} of each decal, as the job says"
    return (
        f"{figures.percent(100 * each.overs.chance, 1)} sure that {each.copies} good ones come out"
    )


def line_words(each: Priced) -> str:
    """Every line of the cost, stage by stage, and the way from cost to price."""
    price, account = each.price, each.price.account
    rows: list[tuple[str, str, str, str]] = []
    for stage, cost in account.by_stage:
        rows.append((stage, "", "", _money(cost, price)))
        for line in account.lines:
            if line.stage == stage:
                amount, rate = amount_and_rate(line)
                rows.append((f"  {line.what}", amount, rate, _money(line.cost, price)))
    rows.append(("cost", "", "", _money(price.cost, price)))
    for step in (price.margin, *price.discounts):
        if step.percent:
            rows.append((step.what, _percent(step.percent), "", _money(step.amount, price)))
    rows.append(("price", "", "", _money(price.net, price)))
    if price.tax.percent:
        tax = price.tax
        rows.append((tax.what, _percent(tax.percent), "", _money(tax.amount, price)))
        rows.append(("with tax", "", "", _money(price.gross, price)))
    widths = [max(len(row[k]) for row in rows) for k in range(4)]
    lines = [
        f"  {a:<{widths[0]}}  {b:>{widths[1]}}  {c:>{widths[2]}}  {d:>{widths[3]}}".rstrip()
        for a, b, c, d in rows
    ]
    lines += ["", *(_decal_line(decal, price) for decal in price.decals)]
    return "\n".join([f"{each.copies} copies, amounts in {account.currency}", "", *lines])


def _decal_line(decal: Any, price: Price) -> str:
    return (
        f"  {decal.copies} {decal.name}: {_money(decal.net, price)}, {_one(decal.one, price)} each"
    )


def amount_and_rate(line: Line) -> tuple[str, str]:
    """How much of something, and what one of it costs: 9:20 min, at 34.00 an hour."""
    amount, unit, rate = line.amount, line.unit, line.rate
    if unit == "h":
        return str(figures.duration(float(amount * 3600))), f"at {rate:f} an hour"
    shown = f"{amount.quantize(Decimal('0.01'), ROUND_HALF_UP):f} {unit}".strip()
    return shown, f"at {rate.normalize():f}" + (f" a {unit}" if unit else " each")


def price_json(priced: Sequence[Priced]) -> dict[str, Any]:
    """The prices for programs; money as decimal strings."""
    return {
        "schema": 1,
        "job": priced[0].job.order.name,
        "roll": priced[0].job.roll.name,
        "currency": _currency(priced[0]),
        "prices": [_one_json(each) for each in priced],
    }


def _one_json(each: Priced) -> dict[str, Any]:
    price, account = each.price, each.price.account
    short = estimate(account)
    return {
        "copies": each.copies,
        "quantities": dict(zip(account.names, account.ordered, strict=True)),
        "planned": dict(zip(account.names, account.planned, strict=True)),
        "overs": {
            "extra": dict(zip(account.names, each.overs.extra, strict=True)),
            "chance": round(each.overs.chance, 6),
        },
        "length_used_mm": round(each.marks.length_used_mm, 6),
        "waste_percent": round(each.waste_percent, 3),
        "busy_s": round(each.busy_s, 3),
        **{part: _text(getattr(short, part)) for part in ("film", "ink", "labour", "machine")},
        "total": _text(short.total),
        "per_decal": _text(short.per_decal),
        "per_decal_by_name": {name: _text(one) for name, one in short.per_decal_by_name},
        "lines": _lines_json(account),
        "margin": _text(price.margin.amount),
        "before_discount": _text(price.before),
        "discounts": [
            {"what": each.what, "percent": _text(each.percent), "amount": _text(each.amount)}
            for each in price.discounts
        ],
        "net": _text(price.net),
        "tax": _text(price.tax.amount),
        "gross": _text(price.gross),
        "net_per_decal": _text(price.one),
        "decals": [
            {
                "name": decal.name,
                "copies": decal.copies,
                "cost": _text(decal.cost),
                "net": _text(decal.net),
                "one": _text(decal.one),
            }
            for decal in price.decals
        ],
        "fuller": None
        if each.fuller is None
        else {"decal": each.fuller.name, "more": each.fuller.more, "text": each.fuller.words},
    }


def _lines_json(account: Account) -> list[dict[str, Any]]:
    return [
        {
            "stage": line.stage,
            "kind": line.kind,
            "what": line.what,
            "amount": _text(line.amount),
            "unit": line.unit,
            "rate": _text(line.rate),
            "cost": _text(line.cost),
            "by_decal": [_text(share) for share in line.shares],
        }
        for line in account.lines
    ]


def _currency(each: Priced) -> str:
    return each.price.account.currency


def _money(amount: Decimal, price: Price) -> str:
    return f"{amount.quantize(price.account.cent):f}"


def _one(amount: Decimal, price: Price) -> str:
    return f"{amount.quantize(price.account.cent / 100):f}"


def _percent(value: Decimal) -> str:
    return f"{value.normalize():f} %"


def _text(amount: Decimal) -> str:
    return f"{amount:f}"
