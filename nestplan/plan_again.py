"""Spoiled copies planned once more: what was lost is booked, and just those copies are nested."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from nestplan.again import (
    Broken,
    Copy,
    Printed,
    Spoiled,
    again_order,
    broken_off,
    job_file_of,
    losses,
    numbers_of,
    only_again,
    read_printed,
    read_spoiled,
    refuse_changed_art,
)
from nestplan.artwork import Artwork, load_artwork
from nestplan.faults import Fault, Note
from nestplan.figures import count, length, ranges
from nestplan.files import Run
from nestplan.job import Job, read_job
from nestplan.marks.film import tail_mm
from nestplan.nest import Budget, Watch, never, unwatched
from nestplan.plan import STEPS, WORKERS, plan_from_stock
from nestplan.plan_stock import booked_plan, refuse_no_stock
from nestplan.stock import (
    Booked,
    film_from_stock,
    has_stock,
    place_of,
    plan_run_of,
    standing_plan,
    stock_path,
)
from nestplan.stock.book import metres
from nestplan.stock.runs import commit, give_back, lose


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the command was asked. table: of spoiled copies. job: the job file, if it is named."""

    folder: Path
    table: Path | None
    broken_mm: float | None
    keep_printed: bool
    job: Path | None
    out: Path
    piece: str | None = None
    start_on: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """A printed plan, what of it came to nothing, and the job of what is printed once more.

    spoiled: what is lost, extra copies too. job, artwork: of the copies that are printed again.
    """

    printed: Printed
    spoiled: tuple[Spoiled, ...]
    broken: Broken | None
    job: Job
    artwork: Artwork
    notes: tuple[Note, ...]


def read_again(asked: Asked) -> Again:
    """What there is to print again. Reads plan, table, job and artwork. raises: Fault, Faults."""
    _refuse_nothing_asked(asked)
    printed = read_printed(asked.folder)
    spoiled = () if asked.table is None else read_spoiled(asked.table, printed)
    broken = None
    if asked.broken_mm is not None:
        broken = broken_off(printed, asked.broken_mm, keep_printed=asked.keep_printed)
        named = {each.copy.key for each in spoiled}
        spoiled += tuple(each for each in broken.spoiled if each.copy.key not in named)
        spoiled = _there(spoiled, broken)
    unprinted = () if broken is None else broken.unprinted
    numbers = numbers_of([*(each.copy for each in spoiled), *unprinted])
    if not numbers:
        raise Fault(
            what="only extra copies are spoiled, and nobody ordered those",
            where=str(asked.table or asked.folder),
            do="there is nothing to print again",
        )
    path = asked.job or job_file_of(printed)
    job = again_order(read_job(path), numbers, piece=asked.piece, start_on=asked.start_on)
    artwork = load_artwork(job)
    refuse_changed_art(artwork, printed, job)
    notes = _notes(printed, spoiled, broken, numbers)
    return Again(
        printed=printed,
        spoiled=spoiled,
        broken=broken,
        job=job,
        artwork=only_again(artwork, numbers),
        notes=tuple(notes),
    )


def plan_again(
    again: Again,
    *,
    out: Path,
    seed: int = 1,
    steps: int = STEPS,
    stopped: Callable[[], bool] = never,
    watch: Watch = unwatched,
) -> Run:
    """Plan the copies that are printed again. raises: Fault, Faults."""
    budget = Budget(steps=steps, seed=seed, workers=WORKERS, stopped=stopped)
    stock = film_from_stock(again.job, place_of(out))
    run = plan_from_stock(again.job, again.artwork, budget, stock, watch)
    return replace(run, again=again.printed.plan, notes=(*again.notes, *run.notes))


def book_losses(again: Again, *, at: str) -> list[str]:
    """Book what was lost, once: the printed plan's film, what came back, the copies' share.

    returns: what was booked, for people. raises: Fault where the stock cannot be used.
    """
    printed, broken = again.printed, again.broken
    if not has_stock(again.job.shop_path):
        return ["the shop keeps no stock: the loss is not booked"]
    path, planned = stock_path(again.job.shop_path), plan_run_of(printed.said, printed.folder)
    if not planned.wanted:
        return ["the plan was not on a piece of the stock: the loss is not booked"]
    used_mm, until_mm = printed.used_mm, printed.used_mm
    if broken is not None:
        used_mm = min(printed.used_mm, broken.at_mm + tail_mm(again.job))
        until_mm = broken.at_mm
    only_film = planned if broken is None else replace(planned, wanted=planned.wanted[:1])
    booked = commit(path, only_film, at=at, used_mm=used_mm)
    said = []
    if not booked.before:
        said.append(f"{metres(booked.used[0].length_um)} booked for the run itself: it was printed")
    if broken is not None:
        reason = f"print broke off at {length(broken.at_mm)}"
        back_um = give_back(path, planned.plan, used_mm, reason=reason, at=at)
        if back_um:
            said.append(f"{metres(back_um)} back on {booked.used[0].source}: not printed")
    run_mm = booked.used[0].length_um / 1000  # what came back is not lost
    lost = losses(printed, again.spoiled, min(run_mm, used_mm) if broken else run_mm, until_mm)
    fresh, gone_um = lose(path, planned.plan, lost, at=at)
    if fresh:
        copies = count(len(fresh), "copy", "copies")
        said.append(f"{copies} and {metres(gone_um)} of film booked as lost")
    if len(fresh) < len(lost):
        copies = count(len(lost) - len(fresh), "copy", "copies")
        said.append(f"{copies} had been booked as lost before")
    return said


def booking_again(
    again: Again, out: Path, *, at: str, took_m: float | None = None
) -> Booked | None:
    """Book the plan of these very copies that lies in a folder, once; None where none lies there.

    raises: Fault where the folder holds another plan, or the shop keeps no stock.
    """
    refuse_no_stock(again.job)
    said = standing_plan(out)
    if said is None:
        return None
    if not _is_of(said, again):
        raise Fault(
            what=f"the plan in {out.name} is not of these copies",
            where=str(out),
            do="plan them without --commit first, or name another folder",
        )
    return booked_plan(said, again.job, out, at=at, took_m=took_m)


def _is_of(said: dict[str, Any], again: Again) -> bool:
    of = said.get("again")
    decals = said.get("decals")
    if not isinstance(of, dict) or not isinstance(decals, list):
        return False
    found = {(d.get("name"), tuple(d.get("numbers") or ())) for d in decals if isinstance(d, dict)}
    wanted = {(decal.name, decal.numbers) for decal in again.artwork.decals}
    return of.get("plan") == again.printed.plan and found == wanted


def _there(spoiled: Sequence[Spoiled], broken: Broken) -> tuple[Spoiled, ...]:
    """Copies in the table that were never printed are not spoiled: they are just not there."""
    never_printed = {copy.key for copy in broken.unprinted}
    return tuple(each for each in spoiled if each.copy.key not in never_printed)


def _notes(
    printed: Printed,
    spoiled: Sequence[Spoiled],
    broken: Broken | None,
    numbers: dict[str, tuple[int, ...]],
) -> list[Note]:
    where = f"again, plan {printed.plan}"
    copies = "; ".join(f"{decal} {ranges(each)}" for decal, each in numbers.items())
    notes = [Note(level="know", where=where, text=f"printed once more: {copies}")]
    if broken is not None and broken.unreadable:
        text = (
            f"{count(broken.unreadable, 'copy was', 'copies were')} printed whole, but the marks "
            "behind them were not: spoiled, for the cutter cannot read that frame; --keep-printed "
            "counts them as good"
        )
        notes.append(Note(level="know", where=where, text=text))
    bad = {each.copy.key for each in spoiled}
    for decal in numbers:
        good = [c for c in printed.copies if c.decal == decal and c.extra and c.key not in bad]
        good = [c for c in good if not _is_unprinted(c, broken)]
        if good:
            words = count(len(good), "extra copy", "extra copies")
            text = f"{words} of {decal} from the run may do for as many of these"
            notes.append(Note(level="know", where=where, text=text))
    return notes


def _is_unprinted(copy: Copy, broken: Broken | None) -> bool:
    return broken is not None and copy.high_mm > broken.at_mm


def _refuse_nothing_asked(asked: Asked) -> None:
    if asked.table is None and asked.broken_mm is None:
        raise Fault(
            what="it is not said what was spoiled",
            where="nestplan again",
            do="name a table of decal, copy and reason, or where the print broke off: --broken MM",
        )
    if asked.keep_printed and asked.broken_mm is None:
        raise Fault(
            what="--keep-printed is about a print that broke off",
            where="--keep-printed",
            do="add --broken MM, or leave it out",
        )
    if asked.out.resolve() == asked.folder.resolve():
        raise Fault(
            what="the plan that was printed must stay as it is",
            where=f"--out {asked.out}",
            do="name another folder",
        )
