"""The command that prices a job: at quantities, on other rolls, otherwise, or as a shared run."""

import json
from pathlib import Path

import click

from nestplan.faults import Fault
from nestplan.terminal import Patience, faults_to_words, leave, progress_line, say, say_json

STEPS_MOST = 1_000_000_000
PRICE_JSON = "price.json"


@click.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@click.option("--quantities", help="Copies of each decal, rising, such as 50,100,250.")
@click.option("--lines", is_flag=True, help="Say where every cent comes from.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for price.json.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget a quantity.")
@click.option("--json", "as_json", is_flag=True, help="Print the prices as JSON.")
def price(
    job: Path,
    quantities: str | None,
    lines: bool,
    out: Path | None,
    seed: int,
    steps: int | None,
    as_json: bool,
) -> None:
    """Price a job as ordered, or at each of several quantities, from real nests."""
    with faults_to_words(as_json), Patience(None) as patience:
        copies = copies_of(quantities)

        from nestplan.files import write_together
        from nestplan.plan_price import PRICE_STEPS, Search, amounts_of, price_job
        from nestplan.price_words import line_words, price_json, price_words
        from nestplan.stock import carried, read_corrections
        from nestplan.stock.words import carried_json, carried_words

        with progress_line() as watch:
            search = Search(
                seed=seed, steps=steps or PRICE_STEPS, stopped=patience.over, watch=watch
            )
            priced = price_job(job, copies, search)
        known = read_corrections(priced[0].job.shop_path, priced[0].job.setup.name)
        prices = price_json(priced)
        for row, each in zip(prices["prices"], priced, strict=True):
            row["likely"] = carried_json(carried(amounts_of(each), known))
        patience.writing()
        if out is not None:
            text = json.dumps(prices, indent=2, ensure_ascii=False) + "\n"
            write_together(out, {PRICE_JSON: text.encode()}, last=PRICE_JSON)
        if as_json:
            say_json(prices)
        else:
            say(price_words(priced))
            for line in carried_words(carried(amounts_of(priced[-1]), known)):
                say(f"{line}, for {priced[-1].copies} copies")
            if lines:
                say("\n" + "\n\n".join(map(line_words, priced)))
    leave((*(note for each in priced for note in each.notes), *patience.notes()))


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
