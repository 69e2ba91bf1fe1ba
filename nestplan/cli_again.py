"""The command that plans spoiled copies once more."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from nestplan.cli_write import STEPS_MOST, planned_and_written, say_booked
from nestplan.terminal import Patience, faults_to_words, now

if TYPE_CHECKING:
    from nestplan.stock import Booked


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
        from nestplan.plan import STEPS
        from nestplan.plan_again import Asked, book_losses, booking_again, plan_again, read_again
        from nestplan.plan_stock import refuse_took

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

        def book() -> "Booked | None":
            return booking_again(found, out, at=now(), took_m=took)

        booked = book() if commit else None
        if booked is not None:
            say_booked(booked, as_json)
            return
    with faults_to_words(as_json), Patience(None) as patience:
        lost = book_losses(found, at=now())
        planned_and_written(
            lambda watch: plan_again(
                found,
                out=out,
                seed=seed,
                steps=steps or STEPS,
                stopped=patience.over,
                watch=watch,
            ),
            lambda run, files: [f"{printed_plan(folder)}: {line}" for line in lost],
            book if commit else None,
            out=out,
            patience=patience,
            as_json=as_json,
        )


def printed_plan(folder: Path) -> str:
    """The folder of the printed plan as it is called."""
    return folder.name or str(folder)
