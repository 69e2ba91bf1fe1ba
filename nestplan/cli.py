"""The commands, thin: words in, rooms called, words out; `terminal.py` prints them.

Heavy rooms are imported inside the commands, so that `--help` answers at once.
"""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nestplan import __version__
from nestplan.cli_again import again
from nestplan.cli_price import price
from nestplan.cli_quote import quote
from nestplan.cli_stock import stock
from nestplan.cli_write import STEPS_MOST, planned_and_written, say_booked
from nestplan.faults import Fault, Note
from nestplan.terminal import (
    NEEDS_A_PERSON,
    Patience,
    faults_to_words,
    leave,
    now,
    progress_line,
    say,
    say_json,
)

if TYPE_CHECKING:
    from nestplan.check import Findings
    from nestplan.job import Aim
    from nestplan.stock import Booked

SHARE_LEAST, SHARE_MOST = 0.01, 100


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="nestplan")
def main() -> None:
    """Plan a decal run before a metre is printed: nest, marks, cut, times, price, files, check."""


main.add_command(price)
main.add_command(quote)
main.add_command(stock)
main.add_command(again)


@main.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def init(folder: Path, as_json: bool) -> None:
    """Write a small job, a shop file and artwork to start from."""
    with faults_to_words(as_json):
        from nestplan.files import write_new
        from nestplan.job import starter_files

        files = starter_files()
        write_new(folder, files)
        if as_json:
            say_json({"folder": str(folder), "files": sorted(files)})
        else:
            say(f"{folder}: {len(files)} files")
            say(f"Next: nestplan plan {folder / 'job.toml'} --out {folder / 'out'}")


@main.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget.")
@click.option("--seconds", type=click.FloatRange(0, min_open=True), help="Ceiling on the search.")
@click.option("--commit", is_flag=True, help="Book its film as used: the plan in DIR, if it is.")
@click.option("--took", type=float, help="With --commit: metres of film that the print took.")
@click.option(
    "--aim",
    type=click.Choice(["film", "time", "money"]),
    help="What to take least of; weighs several widths and modes.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
def plan(
    job: Path,
    out: Path,
    seed: int,
    steps: int | None,
    seconds: float | None,
    commit: bool,
    took: float | None,
    aim: "Aim | None",
    as_json: bool,
) -> None:
    """Plan a run and write print.pdf, proof.pdf, the cut SVGs and summary.json into DIR.

    Where the shop keeps a stock, its film is reserved; --commit books it as used, once.
    """
    with faults_to_words(as_json):
        from nestplan.plan import STEPS, plan_job
        from nestplan.plan_stock import booking, likely, refuse_took
        from nestplan.stock import place_of
        from nestplan.stock.words import carried_words

        def book() -> "Booked | None":
            return booking(job, out, at=now(), took_m=took)

        refuse_took(took, commit)
        booked = book() if commit else None
        if booked is not None:
            say_booked(booked, as_json)
            return
    with faults_to_words(as_json), Patience(seconds) as patience:
        planned_and_written(
            lambda watch: plan_job(
                job,
                seed=seed,
                steps=steps or STEPS,
                aim=aim,
                place=place_of(out),
                stopped=patience.over,
                watch=watch,
            ),
            lambda run, files: carried_words(likely(files, run.job, out)),
            book if commit else None,
            out=out,
            patience=patience,
            as_json=as_json,
        )


@main.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--job", type=click.Path(path_type=Path), help="The job file, to hold against too.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for pages with pictures.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(folder: Path, job: Path | None, out: Path | None, as_json: bool) -> None:
    """Read a plan's files back as a stranger would, and say where they disagree."""
    with faults_to_words(as_json):
        from nestplan.check import check_folder
        from nestplan.report import check_words, findings_json

        findings = check_folder(folder, job)
        if out is not None:
            _write_findings(findings, folder, out)
        if as_json:
            say_json(findings_json(findings))
        else:
            say(check_words(findings, folder))
    sys.exit(NEEDS_A_PERSON if findings.found else 0)


def _write_findings(findings: "Findings", folder: Path, out: Path) -> None:
    """check.pdf and check.json, never among the files that were checked."""
    from nestplan.files import write_together
    from nestplan.report import findings_json
    from nestplan.show.findings_pdf import CHECK_JSON, CHECK_PDF, findings_pdf

    if out.resolve() == folder.resolve():
        raise Fault(
            what="the pages of a check do not belong among the files that were checked",
            where=f"--out {out}",
            do="name another folder",
        )
    told = json.dumps(findings_json(findings), indent=1, ensure_ascii=False) + "\n"
    files = {CHECK_PDF: findings_pdf(findings, folder), CHECK_JSON: told.encode()}
    write_together(out, files, last=CHECK_JSON)


@main.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.argument("measured", metavar="MEASURED", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--frame", type=click.IntRange(1, 100_000), help="The frame that was measured.")
@click.option("--json", "as_json", is_flag=True, help="Print fit.json.")
def fit(folder: Path, measured: Path, out: Path, frame: int | None, as_json: bool) -> None:
    """Judge a print by its measured marks (CSV, or a scan), and correct the cut files of DIR."""
    with faults_to_words(as_json):
        from nestplan.files import write_together
        from nestplan.fit import FIT, fit_files, fit_sheets, refuse_plan_folder
        from nestplan.report import fit_words

        refuse_plan_folder(out)
        made = fit_sheets(folder, measured, frame=frame, version=__version__)
        files = fit_files(made)
        write_together(out, files, last=FIT)
        if as_json:
            say(files[FIT].decode())
        else:
            say(fit_words(made, out, len(files)))
    sys.exit(made.exit_code)


@main.command()
@click.argument(
    "jobs", metavar="JOB.toml...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--shares", help="Shares of the ordered quantities to plan too: 0.25,0.5,2.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget a nest.")
@click.option("--json", "as_json", is_flag=True, help="Print compare.json.")
def compare(
    jobs: tuple[Path, ...],
    out: Path,
    shares: str | None,
    seed: int,
    steps: int | None,
    as_json: bool,
) -> None:
    """Plan a job, or a day's jobs, on every setup of the shop and put them side by side."""
    with faults_to_words(as_json):
        from nestplan.compare import COMPARE, compare_files, compare_words
        from nestplan.files import write_together
        from nestplan.plan_compare import COMPARE_STEPS, SHARES, Search, compare_setups
    with faults_to_words(as_json), Patience(None) as patience:
        asked = SHARES if shares is None else shares_of(shares)
        with progress_line() as watch:
            search = Search(
                seed=seed, steps=steps or COMPARE_STEPS, stopped=patience.over, watch=watch
            )
            found = compare_setups(jobs, search, asked)
        files = compare_files(found)
        patience.writing()
        write_together(out, files, last=COMPARE)
        say(files[COMPARE].decode() if as_json else compare_words(found, out, len(files)))
    leave(tuple(patience.notes()))


@main.command()
@click.argument("shop", metavar="SHOP.toml", type=click.Path(path_type=Path))
@click.argument("table", metavar="TIMINGS.csv", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print what was learned as JSON.")
def learn(shop: Path, table: Path, as_json: bool) -> None:
    """Fit the machines' figures to stopwatch readings, in a new shop file beside the old one."""
    with faults_to_words(as_json):
        from nestplan import learn as room
        from nestplan.files import write_new
        from nestplan.job import read_shop

        known = read_shop(shop)
        timings = room.read_timings(table)
        first = {each.plan: each.line for each in reversed(timings)}
        runs = {
            plan: room.read_run(table.parent / plan, plan, known, f"{table}, line {line}")
            for plan, line in first.items()
        }
        room.refuse_contradictions(timings, runs, table)
        learning = room.learn(room.model_of(known, runs), runs, timings)
        name, text = room.learned_shop(shop, known, learning, list(runs.values()))
        write_new(shop.parent, {name: text})
        written = shop.parent / name
        if as_json:
            say_json(room.learned_json(learning, runs, written))
        else:
            say(room.learned_words(learning, runs, written))
    sys.exit(NEEDS_A_PERSON if learning.bad else 0)


@main.command()
@click.argument("shop", metavar="SHOP.toml", type=click.Path(path_type=Path))
@click.argument("jobs", metavar="JOB.toml...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@click.option("--hours", type=click.FloatRange(0, 24, min_open=True), help="Length of the shift.")
@click.option("--day", help="Its date, 2026-06-12; needed for due times with a date.")
@click.option("--begins", help="When it begins, 08:00; from the shop file when left out.")
@click.option("--running", type=click.Path(path_type=Path), help="Folder of the day as planned.")
@click.option("--now", help="With --running: the time now; what has begun is left alone.")
@click.option("--apart", is_flag=True, help="Do not join jobs of one roll into one run.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31 - 1))
@click.option("--steps", type=click.IntRange(1, STEPS_MOST), help="Search budget a nest.")
@click.option("--json", "as_json", is_flag=True, help="Print shift.json.")
def shift(
    shop: Path,
    jobs: tuple[Path, ...],
    out: Path,
    hours: float | None,
    day: str | None,
    begins: str | None,
    running: Path | None,
    now: str | None,
    apart: bool,
    seed: int,
    steps: int | None,
    as_json: bool,
) -> None:
    """Put a day's jobs in order on the shop's machines: who does what when, and what is late."""
    with faults_to_words(as_json):
        from nestplan.files import write_together
        from nestplan.plan_shift import Asked, plan_shift
        from nestplan.shift import SHIFT, shift_files, shift_words
    with faults_to_words(as_json), Patience(None) as patience:
        asked = Asked(
            shop=shop,
            jobs=jobs,
            hours=hours,
            day=day,
            begins=begins,
            running=running,
            now=now,
            apart=apart,
            seed=seed,
            steps=steps,
        )
        with progress_line() as watch:
            plan = plan_shift(asked, stopped=patience.over, watch=watch)
        files = shift_files(plan)
        patience.writing()
        write_together(out, files, last=SHIFT)
        say(files[SHIFT].decode() if as_json else shift_words(plan, out, len(files)))
    leave((*plan.notes, *patience.notes()))


@main.command()
@click.argument("shop", metavar="SHOP.toml", type=click.Path(path_type=Path))
@click.argument("table", metavar="[READ.csv]", required=False, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the target's files.")
@click.option("--setup", help="Which setup to calibrate; the first when left out.")
@click.option("--roll", help="Which roll it is printed on; the first that fits when left out.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def target(
    shop: Path,
    table: Path | None,
    out: Path | None,
    setup: str | None,
    roll: str | None,
    as_json: bool,
) -> None:
    """Write a print-and-cut target, or work out a new shop file from its readings."""
    with faults_to_words(as_json):
        if (table is None) == (out is None):
            raise Fault(
                what="neither readings nor a folder" if out is None else "readings and a folder",
                where="nestplan target",
                do="write --out DIR to make a target, or the filled-in table to work it out",
            )
        if table is None:
            assert out is not None
            write_target(shop, out, setup, roll, as_json)
            return
        notes = read_target(shop, table, setup, roll, as_json)
    leave(notes)


def write_target(shop: Path, out: Path, setup: str | None, roll: str | None, as_json: bool) -> None:
    """Write the files of a target and say so."""
    from nestplan.files import write_together
    from nestplan.job import read_shop
    from nestplan.target import equipment_of, make_target, target_files, target_json, target_words

    made = make_target(equipment_of(shop, read_shop(shop), setup=setup, roll=roll))
    files = target_files(made, __version__)
    write_together(out, files, last=list(files)[-1])
    if as_json:
        say_json(target_json(made, out, list(files)))
    else:
        say(target_words(made, out, list(files)))


def read_target(
    shop: Path, table: Path, setup: str | None, roll: str | None, as_json: bool
) -> tuple[Note, ...]:
    """Work out a target's readings, write the new shop file and say what was found."""
    from nestplan.files import write_new
    from nestplan.job import read_shop
    from nestplan.target import (
        calibrated_shop,
        equipment_of,
        make_target,
        measure,
        measured_json,
        measured_words,
        read_readings,
        read_sheet,
    )

    sheet = read_sheet(table)
    equipment = equipment_of(
        shop,
        read_shop(shop),
        setup=setup or sheet.head.get("setup"),
        roll=roll or sheet.head.get("roll"),
    )
    made = make_target(equipment)
    measured = measure(made, read_readings(sheet, made))
    name, text, changes = calibrated_shop(equipment, measured)
    write_new(shop.parent, {name: text})
    said = measured_json if as_json else measured_words
    result = said(made, measured, changes, shop.parent / name)
    say_json(result) if as_json else say(str(result))
    return measured.notes


def shares_of(text: str) -> tuple[float, ...]:
    """The numbers of --shares. raises: Fault."""
    found = []
    for word in filter(None, map(str.strip, text.split(","))):
        try:
            share = float(word)
        except ValueError:
            share = 0.0
        if not SHARE_LEAST <= share <= SHARE_MOST:
            raise Fault(
                what=f"{word!r} is not a share",
                where=f"--shares {text}",
                do=f"write numbers from {SHARE_LEAST} to {SHARE_MOST}, with commas: 0.25,0.5,2",
            )
        found.append(share)
    return tuple(found)
