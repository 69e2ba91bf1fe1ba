"""What `price` says of rolls, of what if, and of a shared run; the same for programs."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from nestplan import figures
from nestplan.cost import RollChoice, Share, Shelved, Varied
from nestplan.plan_price import Priced
from nestplan.plan_vary import Rolls, Together

Row = tuple[str, ...]


def rolls_words(found: Rolls) -> str:
    """Rolls that would do, the cheapest first, then those that would not."""
    currency = found.job.shop.cost.currency
    head = ("roll", "total", "film", "used m", "waste", "time", "left m", "worth")
    rows = [head, *(_roll_row(found, choice) for choice in found.choices)]
    lines = [f"{found.job.order.name}, amounts in {currency}", "", *_table(rows)]
    lines += [
        "",
        "  film is what the shelf loses: what is left is counted at what it is worth",
    ]
    lines += [f"  not {_roll_name(each.shelved)}: {each.why}" for each in found.without]
    return "\n".join(lines)


def _roll_row(found: Rolls, choice: RollChoice) -> Row:
    roll = choice.shelved.roll
    said = _roll_name(choice.shelved)
    if (roll.finish, roll.base) != (found.job.roll.finish, found.job.roll.base):
        said += f" ({roll.finish or roll.base})"
    return (
        said,
        f"{choice.total:f}",
        f"{choice.film:f}",
        figures.film(float(choice.used_m) * 1000).figure,
        str(figures.percent(choice.waste_percent)),
        str(figures.duration(choice.busy_s)),
        f"{choice.left_m:.2f}",
        f"{choice.left_worth:f}",
    )


def _roll_name(shelved: Shelved) -> str:
    return f"{shelved.id}, {shelved.roll.name}" if shelved.id else shelved.roll.name


def rolls_json(found: Rolls) -> dict[str, Any]:
    """The same for programs; money as decimal strings."""
    return {
        "job": found.job.order.name,
        "currency": found.job.shop.cost.currency,
        "rolls": [
            {
                "piece": each.shelved.id,
                "roll": each.shelved.roll.name,
                "width_mm": each.shelved.roll.width_mm,
                "total": f"{each.total:f}",
                "film": f"{each.film:f}",
                "rest": f"{each.rest:f}",
                "used_m": f"{each.used_m:f}",
                "left_m": f"{each.left_m:f}",
                "left_worth": f"{each.left_worth:f}",
                "waste_percent": round(each.waste_percent, 3),
                "busy_s": round(each.busy_s, 3),
            }
            for each in found.choices
        ],
        "without": [
            {"piece": each.shelved.id, "roll": each.shelved.roll.name, "why": each.why}
            for each in found.without
        ],
    }


def vary_words(here: Priced, changes: Sequence[Varied]) -> str:
    """One change a line, the least price first."""
    one = here.price.one
    title = (
        f"{here.job.order.name}: {here.copies} copies at {one:f} "
        f"{here.price.account.currency} each; one change at a time"
    )
    rows: list[Row] = [("change", "from", "to", "a decal", "difference", "film m")]
    for each in changes:
        if each.one is not None and each.difference is not None and each.film_mm is not None:
            film = figures.film(each.film_mm).figure
            rows.append(
                (each.key, each.was, each.now, f"{each.one:f}", f"{each.difference:+f}", film)
            )
    lines = [title, "", *_table(rows, left=3), ""]
    lines += [
        f"  not {each.key} {each.now}: {each.why_not}" for each in changes if each.one is None
    ]
    return "\n".join(lines).rstrip()


def vary_json(here: Priced, changes: Sequence[Varied]) -> dict[str, Any]:
    """The same for programs."""
    return {
        "job": here.job.order.name,
        "currency": here.price.account.currency,
        "copies": here.copies,
        "per_decal": f"{here.price.one:f}",
        "changes": [
            {
                "key": each.key,
                "from": each.was,
                "to": each.now,
                "per_decal": None if each.one is None else f"{each.one:f}",
                "difference": None if each.difference is None else f"{each.difference:f}",
                "film_mm": None if each.film_mm is None else round(each.film_mm, 3),
                "why_not": each.why_not,
            }
            for each in changes
        ],
    }


def together_words(found: Together) -> str:
    """Each job's film alone and in the shared run."""
    currency = found.run.price.account.currency
    rows: list[Row] = [("job", "alone", "together", "saved")]
    rows += [_share_row(share) for share in found.shares]
    alone = sum((share.alone for share in found.shares), Decimal(0))
    together = sum((share.together for share in found.shares), Decimal(0))
    rows.append(("all", f"{alone:f}", f"{together:f}", f"{alone - together:f}"))
    film = figures.film(found.run.marks.length_used_mm)
    whole = sum((each.price.cost for each in found.alone), Decimal(0))
    said = (
        "everybody pays the same share of what he would pay alone"
        if together <= alone
        else "the shared run is dearer: run them apart"
    )
    return "\n".join(
        [
            f"{found.run.job.order.name}: film of one run, {film}, in {currency}",
            "",
            *_table(rows),
            "",
            f"  {said}",
            f"  all costs: {whole:f} one by one, {found.run.price.cost:f} as one run",
        ]
    )


def _share_row(share: Share) -> Row:
    return share.name, f"{share.alone:f}", f"{share.together:f}", f"{share.saved:f}"


def together_json(found: Together) -> dict[str, Any]:
    """The same for programs."""
    return {
        "jobs": [
            {
                "job": share.name,
                "film_alone": f"{share.alone:f}",
                "film_together": f"{share.together:f}",
                "cost_alone": f"{alone.price.cost:f}",
            }
            for share, alone in zip(found.shares, found.alone, strict=True)
        ],
        "currency": found.run.price.account.currency,
        "length_used_mm": round(found.run.marks.length_used_mm, 6),
        "cost_together": f"{found.run.price.cost:f}",
    }


def _table(rows: Sequence[Row], left: int = 1) -> list[str]:
    """Columns, the first ones to the left, figures to the right."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            f"{cell:<{w}}" if k < left else f"{cell:>{w}}"
            for k, (cell, w) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(f"  {'  '.join(cells)}".rstrip())
    return lines
