"""The command that makes a quote: a page for the customer, pages for the estimator."""

from pathlib import Path

import click

from nestplan.cli_price import copies_of
from nestplan.cli_write import STEPS_MOST
from nestplan.terminal import Patience, faults_to_words, leave, progress_line, say, say_json


@click.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@click.option("--quantities", help="Copies of each decal, rising, such as 50,100,250.")
@click.option("--date", "day", help="Its date, 2027-05-14; that of the job when left out.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget a quantity.")
@click.option("--json", "as_json", is_flag=True, help="Print all that is inside as JSON.")
def quote(
    job: Path,
    quantities: str | None,
    day: str | None,
    out: Path | None,
    seed: int,
    steps: int | None,
    as_json: bool,
) -> None:
    """Quote a job as ordered, or at each of several quantities.

    Into DIR go quote.pdf, quote.csv and quote.json for the customer, and inside.pdf, inside.csv
    and inside.json, where every cent comes from, for the estimator.
    """
    with faults_to_words(as_json), Patience(None) as patience:
        copies = copies_of(quantities)

        from nestplan.plan_price import PRICE_STEPS, Search
        from nestplan.plan_quote import quote_job
        from nestplan.quote import INSIDE, inside_json, quote_files
        from nestplan.quote_words import quote_words

        with progress_line() as watch:
            search = Search(
                seed=seed, steps=steps or PRICE_STEPS, stopped=patience.over, watch=watch
            )
            made = quote_job(job, copies, day, search)
        patience.writing()
        files = quote_files(made)
        if out is not None:
            from nestplan.files import write_together

            write_together(out, files, last=INSIDE)
        if as_json:
            say_json(inside_json(made))
        else:
            say(quote_words(made, out))
    notes = (note for offer in made.offers for note in offer.priced.notes)
    leave((*notes, *patience.notes()))
