"""What a plan does to the shop's stock: its film is reserved while it is written, booked once."""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.files import Run
from nestplan.job import Job, read_job
from nestplan.stock import (
    Booked,
    Carried,
    OnShelf,
    carried,
    has_stock,
    plan_run_of,
    read_corrections,
    refuse_other_plan,
    standing_plan,
    stock_path,
)
from nestplan.stock.runs import commit, reserving

SUMMARY = "summary.json"
TOOK_MOST_M = 10_000.0


@contextmanager
def reserving_film(
    run: Run, files: Mapping[str, bytes], out: Path, *, at: str
) -> Iterator[tuple[OnShelf, ...]]:
    """Reserve a plan's film while its files are written, and keep it reserved.

    Nothing where the plan is not on a piece of the stock. raises: Fault where it is gone by now.
    """
    if run.job.piece is None:
        yield ()
        return
    planned = plan_run_of(json.loads(files[SUMMARY]), out)
    with reserving(stock_path(run.job.shop_path), planned, at=at) as pieces:
        yield pieces


def likely(files: Mapping[str, bytes], job: Job, out: Path) -> tuple[Carried, ...]:
    """What a plan likely takes by the runs before it; nothing where none are known."""
    planned = plan_run_of(json.loads(files[SUMMARY]), out)
    amounts = {each.stage: each.amount for each in planned.expected}
    return carried(amounts, read_corrections(job.shop_path, job.setup.name))


def booking(path: Path, out: Path, *, at: str, took_m: float | None = None) -> Booked | None:
    """Book the plan that lies in a folder as printed, once; None where none lies there.

    path: the job it was made from. raises: Fault where it is another's, or has no stock.
    """
    job = read_job(path)
    refuse_no_stock(job)
    said = standing_plan(out)
    if said is None:
        return None
    refuse_other_plan(said, job, out)
    return booked_plan(said, job, out, at=at, took_m=took_m)


def booked_plan(
    said: dict[str, Any], job: Job, out: Path, *, at: str, took_m: float | None, reason: str = ""
) -> Booked:
    """Book a plan by its summary. raises: Fault where it is not on a piece of the stock."""
    planned = plan_run_of(said, out)
    if not planned.wanted:
        raise Fault(
            what="the plan is not on a piece of the stock: there is no film to book",
            where=f"{out}, {SUMMARY}",
            do=f"put its film on the shelf, nestplan stock add {job.shop_path.name} "
            f'"{job.roll.name}" METRES, and plan again',
            code=OUT_OF_REACH,
        )
    took_mm = None if took_m is None else took_m * 1000
    return commit(stock_path(job.shop_path), planned, at=at, took_mm=took_mm, reason=reason)


def refuse_no_stock(job: Job) -> None:
    """raises: Fault where the shop keeps no stock."""
    if not has_stock(job.shop_path):
        raise Fault(
            what="the shop keeps no stock: there is nothing to book",
            where=f"--commit, {job.path.name}",
            do=f"leave --commit out, or begin a stock: nestplan stock add {job.shop_path.name} "
            "FILM METRES",
            code=OUT_OF_REACH,
        )


def refuse_took(took_m: float | None, commit: bool) -> None:
    """raises: Fault where --took makes no sense."""
    if took_m is None:
        return
    if not commit:
        raise Fault(
            what="--took says what a print took, and nothing is booked without --commit",
            where="--took",
            do="add --commit, or leave --took out",
        )
    if not 0 < took_m <= TOOK_MOST_M:
        raise Fault(
            what=f"a print cannot take {took_m:g} m",
            where="--took",
            do=f"write metres above 0, up to {TOOK_MOST_M:g}",
        )
