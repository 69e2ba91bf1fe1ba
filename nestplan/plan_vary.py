"""A job priced otherwise: on other rolls, with one thing changed, or in a run with other jobs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil
from pathlib import Path
from typing import Any

from nestplan.artwork import Artwork, load_artwork
from nestplan.cost import (
    NoChoice,
    RollChoice,
    Share,
    Shelved,
    Varied,
    by_price,
    choice_of,
    divided,
    ranked,
)
from nestplan.faults import Fault, Faults
from nestplan.figures import short
from nestplan.job import Change, Job, read_job, white_order
from nestplan.plan import measured, with_quantities
from nestplan.plan_price import Priced, Search, price_run
from nestplan.stock import OnShelf, has_stock, on_piece, shelf, stock_path
from nestplan.stock.store import read_book, reading

Tables = dict[str, Any]
GUTTER_STEP_MM = 1.0
BLEED_STEP_MM = 0.5
MORE_COPIES = Decimal("1.1")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rolls:
    """The rolls that would do, best first, and those that would not."""

    job: Job
    choices: tuple[RollChoice, ...]
    without: tuple[NoChoice, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Together:
    """Several jobs as one run: its price, each alone, the film divided."""

    run: Priced
    alone: tuple[Priced, ...]
    shares: tuple[Share, ...]


# ------------------------------------------------------------------------------ which roll


def which_roll(
    path: Path, copies: int | None, search: Search, on: Sequence[Shelved] | None = None
) -> Rolls:
    """The job on every roll of the shelf that is printed on.

    on: absent, what the stock has free, and the shop file's rolls of films it does not keep.

    Each roll gets a nest of its own width, keeps off its own spoiled stretches, and must have
    enough film. raises: Fault(s) of the job itself.
    """
    job = read_job(path)
    search = replace(search, fuller=False)
    on = shelf_of(job) if on is None else on
    choices, without = [], []
    for shelved in on:
        found = _priced(path, copies, search, Change(**_on(shelved)))
        if isinstance(found, str):
            without.append(NoChoice(shelved=shelved, why=found))
            continue
        account = found.price.account
        choices.append(
            choice_of(
                shelved,
                job.shop.cost,
                used_mm=found.marks.length_used_mm,
                rest=account.total - account.of(stage="film"),
                waste_percent=found.waste_percent,
                busy_s=found.busy_s,
            )
        )
    return Rolls(job=job, choices=ranked(choices), without=tuple(without))


def shelf_of(job: Job) -> list[Shelved]:
    """Pieces of the stock with film free, behind what is reserved; else rolls of the shop file."""
    pieces: list[OnShelf] = []
    if has_stock(job.shop_path):
        path = stock_path(job.shop_path)
        with reading(path) as db:
            pieces = [each for each in shelf(read_book(db, path)).values() if each.free_um > 0]
    found = []
    for roll in job.shop.roll:
        if roll.use != "print":
            continue
        own = [each for each in pieces if each.piece.film == roll.name]
        as_new = replace(job, roll=roll)
        found += [Shelved(id=each.piece.id, roll=on_piece(as_new, each).roll) for each in own]
        if not own:
            found.append(Shelved(id="", roll=roll))
    return found


def _on(shelved: Shelved) -> dict[str, Any]:
    """The job on this piece: it takes the place of the roll of its name."""
    said = shelved.roll.model_dump(exclude_unset=True)

    def job(tables: Tables) -> None:
        tables["roll"] = shelved.roll.name

    def shop(tables: Tables) -> None:
        others = [row for row in tables["roll"] if row.get("name") != shelved.roll.name]
        tables["roll"] = [*others, said]

    return {"job": job, "shop": shop}


# ------------------------------------------------------------------------------ what if


def what_if(path: Path, copies: int | None, search: Search) -> tuple[Priced, tuple[Varied, ...]]:
    """The job as it stands, and with one thing changed at a time, the least price first."""
    search = replace(search, fuller=False)
    here = _priced(path, copies, search, Change(), refused=False)
    assert isinstance(here, Priced)
    found = []
    for key, was, now, change in _changes(here.job):
        found.append(_varied(key, was, now, here, _priced(path, copies, search, change)))
    more = max(here.copies + 1, ceil(here.copies * MORE_COPIES))
    quantities = tuple(
        ceil(decal.quantity * Decimal(more) / here.copies) for decal in here.artwork.decals
    )
    after = _priced(path, quantities, search, Change())
    total = str(sum(quantities))
    found.append(_varied("quantity", str(here.copies), total, here, after))
    return here, by_price(found)


def _varied(key: str, was: str, now: str, here: Priced, after: Priced | str) -> Varied:
    if isinstance(after, str):
        return Varied(
            key=key, was=was, now=now, one=None, difference=None, film_mm=None, why_not=after
        )
    return Varied(
        key=key,
        was=was,
        now=now,
        one=after.price.one,
        difference=after.price.one - here.price.one,
        film_mm=after.marks.length_used_mm,
    )


def _changes(job: Job) -> Iterator[tuple[str, str, str, Change]]:
    """Key, as it is, as it would be, and the change."""
    gutter = job.order.gutter_mm
    for to in (gutter - GUTTER_STEP_MM, gutter + GUTTER_STEP_MM):
        if to >= 0:
            said = (short(gutter), short(to))
            yield "gutter_mm", *said, Change(job=_setting("gutter_mm", to))
    bleeds = sorted({row.bleed_mm for row in job.order.decal})
    for step in (-BLEED_STEP_MM, BLEED_STEP_MM):
        if bleeds[0] + step >= 0:
            was = " and ".join(map(short, bleeds))
            now = " and ".join(short(bleed + step) for bleed in bleeds)
            yield "bleed_mm", was, now, Change(job=_bleeding(step))
    for roll in job.shop.roll:
        if roll.use == "print" and roll.name != job.roll.name:
            said = (f"{job.roll.name}", f"{roll.name}")
            yield "roll", *said, Change(job=_setting("roll", roll.name))
    rules = sorted({row.rotate for row in job.order.decal})
    for rule in ("none", "half", "quarter", "free"):
        if rules != [rule]:
            yield "rotate", " and ".join(rules), rule, Change(job=_rotating(rule))
    for setup in job.shop.setup:
        if setup.name != job.setup.name:
            yield "setup", job.setup.name, setup.name, Change(job=_setting("setup", setup.name))


def _setting(key: str, value: Any) -> Any:
    def change(tables: Tables) -> None:
        tables[key] = value

    return change


def _bleeding(step_mm: float) -> Any:
    def change(tables: Tables) -> None:
        for row in tables["decal"]:
            row["bleed_mm"] = max(0.0, float(row.get("bleed_mm", 2.0)) + step_mm)

    return change


def _rotating(rule: str) -> Any:
    def change(tables: Tables) -> None:
        for row in tables["decal"]:
            row["rotate"] = rule

    return change


# ------------------------------------------------------------------------------ a shared run


def together(paths: Sequence[Path], search: Search) -> Together:
    """Jobs of one roll, setup and shop as a single run, its film divided by what each costs alone.

    raises: Fault where they cannot be one run.
    """
    search = replace(search, fuller=False)
    jobs = [read_job(path) for path in paths]
    _refuse_apart(jobs)
    arts = [load_artwork(job) for job in jobs]
    alone = tuple(
        price_run(job, art, measured(job, art), search) for job, art in zip(jobs, arts, strict=True)
    )
    rows, decals = [], []
    for job, art in zip(jobs, arts, strict=True):
        for row, decal in zip(job.order.decal, art.decals, strict=True):
            name = f"{job.order.name}: {row.name}"
            rows.append(row.model_copy(update={"name": name}))
            decals.append(replace(decal, name=name))
    order = jobs[0].order.model_copy(
        update={"name": " + ".join(job.order.name for job in jobs), "decal": rows}
    )
    job, art = replace(jobs[0], order=order), Artwork(decals=tuple(decals), notes=())
    run = price_run(job, art, measured(job, art), search)
    films = [each.price.account.of(stage="film") for each in alone]
    account = run.price.account
    shares = divided(
        [job.order.name for job in jobs], films, account.of(stage="film"), account.cent
    )
    return Together(run=run, alone=alone, shares=shares)


def _refuse_apart(jobs: Sequence[Job]) -> None:
    """raises: Fault where jobs cannot share a run."""
    first = jobs[0]
    for job in jobs[1:]:
        for key, one, other in (
            ("shop", first.shop_path.resolve(), job.shop_path.resolve()),
            ("currency", first.shop.cost.currency, job.shop.cost.currency),
            ("roll", first.roll.name, job.roll.name),
            ("setup", first.setup.name, job.setup.name),
            ("gutter_mm", first.order.gutter_mm, job.order.gutter_mm),
            ("laminate", first.order.laminate, job.order.laminate),
            ("masked", first.order.masked, job.order.masked),
            ("white", white_order(first.order), white_order(job.order)),
        ):
            if one != other:
                raise Fault(
                    what=f"{first.order.name} and {job.order.name} cannot be one run: {key} is "
                    f"{one} in one, {other} in the other",
                    where=f"{job.path}, {key}",
                    do=f"write the same {key} in both, or price them apart",
                )


# ------------------------------------------------------------------------------ one price


def _priced(
    path: Path,
    copies: int | Sequence[int] | None,
    search: Search,
    change: Change,
    *,
    refused: bool = True,
) -> Priced | str:
    """The job with a change, or why it cannot be made so.

    refused: False raises the Fault.
    """
    try:
        job = read_job(path, change=change)
        artwork = load_artwork(job)
        pieces = measured(job, artwork)
        if copies is not None:
            job, artwork = with_quantities(job, artwork, copies)
        return price_run(job, artwork, pieces, search)
    except (Fault, Faults) as trouble:
        if not refused:
            raise
        faults = trouble.each if isinstance(trouble, Faults) else [trouble]
        return "; ".join(dict.fromkeys(fault.what for fault in faults))
