"""What runs were expected to take and what they took: kept by plan, for the next estimate."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from nestplan.stock.correction import Correction, correction
from nestplan.stock.store import reading

Stage = Literal["film", "print", "laminate", "cut", "run"]
STAGES: tuple[Stage, ...] = get_args(Stage)  # film in mm, the others in seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a plan expects of a stage: film in mm, times in seconds, never 0.

    setup: of the times; film: the [[roll]] of the shop file.
    """

    stage: Stage
    amount: float
    setup: str
    film: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A stage of a run that was done: what was expected and what it took, in one unit."""

    plan: str
    job: str
    stage: Stage
    setup: str
    film: str
    expected: float
    took: float
    at: str


def read_outcomes(path: Path) -> tuple[Outcome, ...]:
    """Every stage of every booked run of which somebody said what it took. raises: Fault."""
    with reading(path) as db:
        rows = db.execute(
            "SELECT e.plan, e.job, e.stage, e.setup, e.film, e.amount, t.amount, t.at "
            "FROM expected e JOIN took t ON t.plan = e.plan AND t.stage = e.stage "
            "ORDER BY t.at, e.plan, e.stage"
        ).fetchall()
    return tuple(
        Outcome(
            plan=plan, job=job, stage=stage, setup=setup, film=film, expected=was, took=took, at=at
        )
        for plan, job, stage, setup, film, was, took, at in rows
    )


def corrections(
    outcomes: Iterable[Outcome], *, setup: str, level: float = 0.90
) -> dict[Stage, Correction]:
    """For each stage by what factor the next run of this setup is likely off its estimate.

    Film does not ask for the setup: what leads and waste take is much the same on all. Pure.
    """
    each = tuple(outcomes)
    return {
        stage: _of(
            [o for o in each if o.stage == stage and (stage == "film" or o.setup == setup)], level
        )
        for stage in STAGES
    }


def _of(outcomes: Sequence[Outcome], level: float) -> Correction:
    return correction([o.expected for o in outcomes], [o.took for o in outcomes], level)


def insert_expected(
    db: sqlite3.Connection, plan: str, job: str, expected: Sequence[Expected], at: str
) -> None:
    """Write what a plan expects, within a transaction."""
    db.executemany(
        "INSERT INTO expected (plan, stage, job, setup, film, amount, at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(plan, e.stage, job, e.setup, e.film, e.amount, at) for e in expected],
    )


def insert_took(db: sqlite3.Connection, plan: str, took: Mapping[str, float], at: str) -> None:
    """Write what a plan took, within a transaction; a stage stated again has the new figure."""
    db.executemany(
        "INSERT OR REPLACE INTO took (plan, stage, amount, at) VALUES (?, ?, ?, ?)",
        [(plan, stage, amount, at) for stage, amount in took.items()],
    )
