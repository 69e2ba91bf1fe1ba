"""How a command that plans ends: files written, film reserved or booked, and what is said of it."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from nestplan.terminal import Patience, leave, now, progress_line, say, say_json

if TYPE_CHECKING:
    from nestplan.files import Run
    from nestplan.nest import Watch
    from nestplan.stock import Booked

STEPS_MOST = 1_000_000_000


def say_booked(booked: "Booked", as_json: bool) -> None:
    """A plan that lay there is booked, and nothing else is done."""
    from nestplan.stock.words import booked_json, booked_words

    if as_json:
        say_json(booked_json(booked))
    else:
        say(booked_words(booked))


def planned_and_written(
    planned: "Callable[[Watch], Run]",
    more_words: "Callable[[Run, Mapping[str, bytes]], list[str]]",
    booking: "Callable[[], Booked | None] | None",
    *,
    out: Path,
    patience: Patience,
    as_json: bool,
) -> NoReturn:
    """Plan a run, write its files to a folder with its film reserved, say it, and leave.

    booking: books the plan once it is written; None: its film stays reserved.
    """
    from nestplan.files import run_files, write_together
    from nestplan.plan_stock import reserving_film
    from nestplan.report import plan_words
    from nestplan.stock import place_of
    from nestplan.stock.words import booked_words, reserved_words

    with progress_line() as watch:
        run = planned(watch)
    run = replace(run, notes=(*run.notes, *patience.notes()))
    files = run_files(run)
    patience.writing()
    with reserving_film(run, files, out, at=now()) as pieces:
        write_together(out, files)
    if as_json:
        say(files["summary.json"].decode())
    else:
        say(plan_words(run, out, len(files)))
        for line in more_words(run, files):
            say(line)
        if pieces and booking is None:
            say(reserved_words(pieces, place_of(out)))
    if booking is not None:
        booked = booking()
        assert booked is not None, "the plan was written"
        if not as_json:
            say(booked_words(booked))
    leave(run.notes)
