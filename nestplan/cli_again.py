"""The command that plans spoiled copies once more."""

from pathlib import Path

import click

from nestplan.terminal import (
    Patience,
    faults_to_words,
    leave,
    now,
    progress_line,
    say,
    say_json,
)

STEPS_MOST = 1_000_000_000


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.argument("table", metavar="[SPOILED.csv]", required=False, type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--broken", type=float, help="The print broke off so many mm from the film's edge.")
@click.option("--keep-printed", is_flag=True, help="Copies printed whole are good, marks or not.")
@click.option("--job", type=click.Path(path_type=Path), help="The job file, if it is not near DIR.")
@click.option("--piece", help="Roll or remnant of the stock to print on.")
@click.option("--start-on", help="Drawing of film that is not whole, from the job's folder.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget.")
@click.option("--commit", is_flag=True, help="Book its film as used: the plan in DIR2, if it is.")
@click.option("--took", type=float, help="With --commit: metres of film that the print took.")
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
def again(
    folder: Path,
    table: Path | None,
    out: Path,
    broken: float | None,
    keep_printed: bool,
    job: Path | None,
    piece: str | None,
    start_on: str | None,
    seed: int,
    steps: int | None,
    commit: bool,
    took: float | None,
    as_json: bool,
) -> None:
    """Plan just the spoiled copies of the printed plan in DIR; their numbers and rows stay.

    SPOILED.csv has columns decal, copy and reason. Where the shop keeps a stock, the loss is
    booked with its reasons.
    """
    with faults_to_words(as_json):
        from dataclasses import replace

        from nestplan.files import run_files, write_together
        from nestplan.plan import STEPS
        from nestplan.plan_again import Asked, book_losses, booking_again, plan_again, read_again
        from nestplan.plan_stock import refuse_took, reserving_film
        from nestplan.report import plan_words
        from nestplan.stock import place_of
        from nestplan.stock.words import booked_json, booked_words, reserved_words

        refuse_took(took, commit)
        found = read_again(
            Asked(
                folder=folder,
                table=table,
                broken_mm=broken,
                keep_printed=keep_printed,
                job=job,
                out=out,
                piece=piece,
                start_on=start_on,
            )
        )
        booked = booking_again(found, out, at=now(), took_m=took) if commit else None
        if booked is not None:
            say_json(booked_json(booked)) if as_json else say(booked_words(booked))
            return
    with faults_to_words(as_json), Patience(None) as patience:
        lost = book_losses(found, at=now())
        with progress_line() as watch:
            run = plan_again(
                found,
                out=out,
                seed=seed,
                steps=steps or STEPS,
                stopped=patience.over,
                watch=watch,
            )
        run = replace(run, notes=(*run.notes, *patience.notes()))
        files = run_files(run)
        patience.writing()
        with reserving_film(run, files, out, at=now()) as pieces:
            write_together(out, files)
        if as_json:
            say(files["summary.json"].decode())
        else:
            say(plan_words(run, out, len(files)))
            say("\n".join(f"{printed_plan(folder)}: {line}" for line in lost))
            if pieces and not commit:
                say(reserved_words(pieces, place_of(out)))
        if commit:
            booked = booking_again(found, out, at=now(), took_m=took)
            assert booked is not None, "the plan was written"
            if not as_json:
                say(booked_words(booked))
    leave(run.notes)


def printed_plan(folder: Path) -> str:
    """The folder of the printed plan as it is called."""
    return folder.name or str(folder)
