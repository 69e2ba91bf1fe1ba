"""The command that prices a job: at quantities, on other rolls, otherwise, or as a shared run."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nestplan.cli_write import STEPS_MOST
from nestplan.faults import Fault, Note
from nestplan.terminal import Patience, faults_to_words, leave, progress_line, say, say_json

if TYPE_CHECKING:
    from nestplan.plan_price import Search

PRICE_JSON = "price.json"


@click.command()
@click.argument(
    "jobs", metavar="JOB.toml...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--quantities", help="Copies of each decal, rising, such as 50,100,250.")
@click.option("--lines", is_flag=True, help="Say where every cent comes from.")
@click.option("--rolls", is_flag=True, help="Which roll: all that would do, the cheapest first.")
@click.option("--vary", is_flag=True, help="What if: one thing changed at a time.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for price.json.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget a quantity.")
@click.option("--json", "as_json", is_flag=True, help="Print the prices as JSON.")
def price(
    jobs: tuple[Path, ...],
    quantities: str | None,
    lines: bool,
    rolls: bool,
    vary: bool,
    out: Path | None,
    seed: int,
    steps: int | None,
    as_json: bool,
) -> None:
    """Price a job as ordered, or at each of several quantities, from real nests.

    With several jobs: the film of the run that they share, divided among them.
    """
    with faults_to_words(as_json), Patience(None) as patience:
        copies = copies_of(quantities)
        _refuse_two_questions(jobs, copies, rolls=rolls, vary=vary)

        from nestplan.plan_price import PRICE_STEPS, Search

        with progress_line() as watch:
            search = Search(
                seed=seed, steps=steps or PRICE_STEPS, stopped=patience.over, watch=watch
            )
            if len(jobs) > 1 or rolls or vary:
                words, data = _otherwise(jobs, copies, search, rolls=rolls)
                notes: tuple[Note, ...] = ()
            else:
                words, data, notes = _at_quantities(jobs[0], copies, search, lines=lines)
        patience.writing()
        if out is not None:
            from nestplan.files import write_together

            text = json.dumps(data, indent=2, ensure_ascii=False) + "\n"
            write_together(out, {PRICE_JSON: text.encode()}, last=PRICE_JSON)
        if as_json:
            say_json(data)
        else:
            say(words)
    leave((*notes, *patience.notes()))


def _at_quantities(
    job: Path, copies: list[int], search: "Search", *, lines: bool
) -> tuple[str, dict[str, Any], tuple[Note, ...]]:
    from nestplan.plan_price import amounts_of, price_job
    from nestplan.price_words import line_words, price_json, price_words
    from nestplan.stock import carried, read_corrections
    from nestplan.stock.words import carried_json, carried_words

    priced = price_job(job, copies, search)
    known = read_corrections(priced[0].job.shop_path, priced[0].job.setup.name)
    prices = price_json(priced)
    for row, each in zip(prices["prices"], priced, strict=True):
        row["likely"] = carried_json(carried(amounts_of(each), known))
    said = [price_words(priced)]
    for line in carried_words(carried(amounts_of(priced[-1]), known)):
        said.append(f"{line}, for {priced[-1].copies} copies")
    if lines:
        said += ["", "\n\n".join(map(line_words, priced))]
    return "\n".join(said), prices, tuple(note for each in priced for note in each.notes)


def _otherwise(
    jobs: tuple[Path, ...], copies: list[int], search: "Search", *, rolls: bool
) -> tuple[str, dict[str, Any]]:
    """On other rolls, with one thing changed, or several jobs in one run."""
    from nestplan import vary_words as words
    from nestplan.plan_vary import together, what_if, which_roll

    number = copies[0] if copies else None
    if len(jobs) > 1:
        shared = together(jobs, search)
        return words.together_words(shared), words.together_json(shared)
    if rolls:
        found = which_roll(jobs[0], number, search)
        return words.rolls_words(found), words.rolls_json(found)
    varied = what_if(jobs[0], number, search)
    return words.vary_words(*varied), words.vary_json(*varied)


def _refuse_two_questions(
    jobs: tuple[Path, ...], copies: list[int], *, rolls: bool, vary: bool
) -> None:
    """raises: Fault where two things are asked that have no common answer."""
    asked = [name for name, on in (("--rolls", rolls), ("--vary", vary)) if on]
    if len(jobs) > 1:
        asked.append("several jobs")
    if len(asked) > 1:
        raise Fault(
            what=f"{' and '.join(asked)} are two questions",
            where="nestplan price",
            do="ask one at a time",
        )
    if asked and len(copies) > (0 if len(jobs) > 1 else 1):
        raise Fault(
            what=f"{asked[0]} is asked at one quantity, not at {len(copies)}",
            where="--quantities",
            do="leave it out" + ("" if len(jobs) > 1 else ", or write one number"),
        )


def copies_of(quantities: str | None) -> list[int]:
    """The numbers of --quantities; an empty list means as ordered. raises: Fault."""
    if quantities is None:
        return []
    from nestplan.job.job_file import QUANTITY_MOST

    copies: list[int] = []
    for word in quantities.split(","):
        if not word.strip().isdecimal() or not 1 <= int(word) <= QUANTITY_MOST:
            raise Fault(
                what=f"{word.strip()!r} is not a quantity",
                where=f"--quantities {quantities}",
                do=f"write whole numbers from 1 to {QUANTITY_MOST}, with commas: 50,100,250",
            )
        if copies and int(word) <= copies[-1]:
            raise Fault(
                what=f"{int(word)} comes after {copies[-1]}",
                where=f"--quantities {quantities}",
                do="write the quantities in rising order, each once: 50,100,250",
            )
        copies.append(int(word))
    return copies
