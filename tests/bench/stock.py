"""The stock under murder: a commit killed at every step, many desks at once, and then an audit.

    python -m tests.bench.stock --steps 100 --desks 10 --orders 20 --json FILE
    python -m tests.bench.stock --calls 100    # each write, lock, flush and delete on the disk
    python -m tests.bench.stock --commands 10  # the same through the whole command: slow

`--steps`: the transaction of a commit is killed (SIGKILL) at so many of the steps that SQLite's
own machine takes. `--calls`: the process that commits is killed at its writes, flushes,
truncations, locks and deletes of the stock file and its journal, one by one (needs strace);
`--commands`: so is the whole command `plan --commit`.
After each kill the file is opened as any desk would: the run is booked whole or not at all, and
booking it again books it once. `--desks`: so many processes plan, book, use and cut at one time;
each says what it did, and the book must say the same. `--shops`: how often a next run lies in the
interval that earlier ones give. Nothing is timed that a test depends on.
"""

import argparse
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from nestplan.faults import Fault
from nestplan.stock import enter, open_book, runs, store
from nestplan.stock.audit import audit
from nestplan.stock.book import um_of_m
from nestplan.stock.correction import correction
from nestplan.stock.history import Expected
from nestplan.stock.runs import PlanRun, Wanted
from nestplan.stock.shelf import shelf
from tests.small_job import write_small_job

AT = "2027-05-14T08:00:00+02:00"
LEFT_M, RUN_M = 20.0, 1.234567
CALLS = "pwrite64,fsync,fdatasync,ftruncate,unlink,fcntl,openat"
RUN = PlanRun(
    plan="0123456789ab",
    job="pier open day",
    place="/out",
    wanted=(Wanted(piece="P1", length_um=um_of_m(RUN_M)),),
    expected=(Expected(stage="film", amount=RUN_M * 1000, setup="pair", film="white gloss 600"),),
)


def reserved_stock(path: Path) -> None:
    """A roll of which a plan has reserved some."""
    enter.add(path, film="white gloss 600", width_mm=600, length_m=LEFT_M, at=AT)
    runs.reserve(path, RUN, at=AT)


def in_child(work: Callable[[], None]) -> bool:
    """Whether work came to its end in a process of its own; False: it was killed."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException as error:  # a child must never go on as its parent
            print(f"child: {error!r}", file=sys.stderr)
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return False
    assert os.WEXITSTATUS(status) == 0, "the child failed by itself"
    return True


def commit_killed_at(path: Path, step: int | None) -> int:
    """Book the run; SIGKILL at a step of SQLite's machine. returns: steps it takes in all."""
    taken = 0

    def at_step() -> int:
        nonlocal taken
        taken += 1
        if taken == step:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    plain = sqlite3.connect

    def connect(*args: Any, **options: Any) -> sqlite3.Connection:
        db = plain(*args, **options)
        db.set_progress_handler(at_step, 1)
        return db

    store.sqlite3.connect = connect  # type: ignore[assignment]
    try:
        runs.commit(path, RUN, at=AT)
    finally:
        store.sqlite3.connect = plain  # type: ignore[assignment]
    return taken


def booked_or_not(path: Path, plan: str, length_um: int) -> bool:
    """Whether the run is booked; asserts that it is whole, or not there at all."""
    book = open_book(path)
    assert list(audit(book)) == []
    piece = shelf(book)["P1"]
    held = [each for each in book.reservations if each.plan == plan]
    with store.reading(path) as db:
        told = db.execute("SELECT count(*) FROM expected WHERE plan = ?", (plan,)).fetchone()[0]
    booked = bool(book.runs(plan))
    assert piece.left_um == um_of_m(LEFT_M) - (length_um if booked else 0)
    assert len(held) == (0 if booked else 1)
    assert bool(told) == booked
    return booked


def kill_at_steps(folder: Path, points: int) -> dict[str, int]:
    """Kill a commit at so many of its steps, evenly from first to last."""
    fresh = folder / "fresh.sqlite"
    reserved_stock(fresh)
    whole = folder / "whole.sqlite"
    shutil.copy(fresh, whole)
    steps = commit_killed_at(whole, None)
    killed = booked = 0
    for k, step in enumerate(np.unique(np.linspace(1, steps, points).round().astype(int))):
        path = folder / f"stock-{k}.sqlite"
        shutil.copy(fresh, path)
        killed += not in_child(lambda path=path, step=step: commit_killed_at(path, int(step)))
        booked += booked_or_not(path, RUN.plan, um_of_m(RUN_M))
        for _ in range(2):
            runs.commit(path, RUN, at=AT)
        assert booked_or_not(path, RUN.plan, um_of_m(RUN_M))
        path.unlink()
    return {"steps": steps, "killed": killed, "booked": booked}


def kill_at_calls(folder: Path, most: int) -> dict[str, Any]:
    """Kill what commits at each of its calls on the stock file, until it comes through."""
    stock = folder / "stock.sqlite"
    reserved_stock(stock)
    run = [sys.executable, "-m", "tests.bench.stock", "--commit", str(stock)]
    return _killed(
        stock, run, most, RUN.plan, um_of_m(RUN_M), lambda: runs.commit(stock, RUN, at=AT)
    )


def kill_commands(folder: Path, most: int) -> dict[str, Any]:
    """Kill the whole command at each of its calls on the stock file, until it comes through."""
    job = write_small_job(folder / "job")
    stock, out = folder / "job/stock.sqlite", folder / "out"
    run = [sys.executable, "-m", "nestplan", "plan", str(job), "--out", str(out)]
    enter.add(stock, film="white gloss 600", width_mm=600, length_m=LEFT_M, at=AT)
    subprocess.run([*run, "--steps", "60"], check=True, capture_output=True)
    said = json.loads((out / "summary.json").read_bytes())
    plan, length = said["plan"], round(said["roll"]["length_used_mm"] * 1000)
    book = [*run, "--commit"]
    again = partial(subprocess.run, book, check=True, capture_output=True)
    return _killed(stock, book, most, plan, length, again)


def _killed(
    stock: Path,
    run: list[str],
    most: int,
    plan: str,
    length_um: int,
    again: Callable[[], object],
) -> dict[str, Any]:
    """Kill a command at its first call on the stock, its second and so on, with an audit each."""
    fresh = stock.read_bytes()
    trace = ["strace", "-f", "-qq", "-o", "/dev/null"]
    for file in (stock, stock.with_name("stock.sqlite-journal")):
        trace += ["-P", str(file)]
    points, booked = 0, 0
    for when in range(1, most + 1):
        stock.write_bytes(fresh)
        stock.with_name("stock.sqlite-journal").unlink(missing_ok=True)
        inject = ["-e", f"trace={CALLS}", "-e", f"inject={CALLS}:signal=KILL:when={when}"]
        done = subprocess.run([*trace, *inject, *run], capture_output=True)
        came_through = done.returncode == 0
        points += not came_through
        booked += booked_or_not(stock, plan, length_um)
        for _ in range(2):
            again()
        assert booked_or_not(stock, plan, length_um)
        if came_through:
            break
    return {"calls": points, "all": came_through, "booked": booked}


def desk(path: Path, number: int, orders: int, told: Path) -> None:
    """One desk: plans, books (twice), frees, uses and counts nothing; writes down what it did."""
    rng = np.random.default_rng(number)
    did: dict[str, Any] = {"used_um": 0, "plans": [], "refused": 0}
    for order in range(orders):
        piece = f"P{rng.integers(1, 4)}"
        length = int(rng.integers(1, 400_000))
        plan = f"{number:04x}{order:04x}"
        run = PlanRun(
            plan=plan,
            job=f"desk {number}",
            place=f"/desk{number}/{order}",
            wanted=(Wanted(piece=piece, length_um=length),),
        )
        try:
            match rng.integers(0, 4):
                case 0:
                    enter.use(path, piece, length / 1e6, reason=f"desk {number}", at=AT)
                    did["used_um"] += length
                case 1:
                    runs.reserve(path, run, at=AT)
                    runs.release(path, plan)
                case _:
                    runs.reserve(path, run, at=AT)
                    runs.commit(path, run, at=AT)
                    runs.commit(path, run, at=AT)
                    did["plans"].append([plan, length])
        except Fault as fault:
            assert "left" in fault.what, fault.what
            did["refused"] += 1
    told.write_text(json.dumps(did))


def many_desks(folder: Path, desks: int, orders: int) -> dict[str, Any]:
    """So many processes at one stock of three rolls, until they are through; then the audit."""
    path = folder / "stock.sqlite"
    rolls_m = [0.06 * desks * orders, 0.05 * desks * orders, 0.02 * desks * orders]
    for length_m in rolls_m:
        enter.add(path, film="white gloss 600", width_mm=600, length_m=length_m, at=AT)
    begun = time.monotonic()
    children = []
    for number in range(desks):
        child = os.fork()
        if child == 0:
            try:
                desk(path, number, orders, folder / f"told-{number}.json")
            except BaseException as error:
                print(f"desk {number}: {error!r}", file=sys.stderr)
                os._exit(1)
            os._exit(0)
        children.append(child)
    assert all(os.waitpid(child, 0)[1] == 0 for child in children), "a desk failed"
    took_s = time.monotonic() - begun
    told = [json.loads((folder / f"told-{number}.json").read_text()) for number in range(desks)]
    book = open_book(path)
    assert list(audit(book)) == []
    plans = {plan: length for each in told for plan, length in each["plans"]}
    runs_um = {m.plan: m.length_um for m in book.movements if m.kind == "run"}
    assert runs_um == plans, "what desks booked is not what the book says"
    used_um = sum(each["used_um"] for each in told)
    assert used_um == sum(m.length_um for m in book.movements if m.kind == "use")
    left_um = sum(each.left_um for each in shelf(book).values())
    assert left_um == sum(map(um_of_m, rolls_m)) - used_um - sum(plans.values())
    return {
        "desks": desks,
        "orders": desks * orders,
        "booked": len(plans),
        "refused": sum(each["refused"] for each in told),
        "bookings_a_second": round(len(book.movements) / took_s, 1),
        "left_um": left_um,
    }


def next_runs(shops: int) -> list[dict[str, Any]]:
    """How often the next run lies in its interval; with and without a stopwatch left running.

    True factors have a standard deviation of 0.2 of their logarithm, runs one of 0.08; of the
    spoiled histories one run of the known is 0.2 to 5 times wrong.
    """
    rng = np.random.default_rng(1)
    rows = []
    for known in (3, 5, 8, 12, 20):
        for gross in (False, True):
            inside = wide = aside = 0.0
            for _ in range(shops):
                factor = rng.normal(0, 0.2)
                took = np.exp(factor + rng.normal(0, 0.08, known + 1))
                following = took[-1]
                took = took[:-1]
                if gross:
                    took[rng.integers(known)] *= np.exp(rng.choice([-1, 1]) * rng.uniform(0.7, 1.6))
                found = correction([1.0] * known, took.tolist())
                assert found.low is not None and found.high is not None
                inside += found.low <= following <= found.high
                wide += np.log(found.high / found.low) / 2
                aside += found.set_aside
            rows.append(
                {
                    "runs": known,
                    "gross": gross,
                    "inside_percent": round(100 * float(inside) / shops, 1),
                    "half_percent": round(100 * float(np.exp(wide / shops) - 1), 1),
                    "set_aside_a_shop": round(aside / shops, 2),
                }
            )
    return rows


def main() -> None:
    """Run what is asked for; an assertion that fails is a metre lost or used twice."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--steps", type=int, default=0, help="kill a commit at so many steps")
    asked.add_argument("--calls", type=int, default=0, help="kill it at so many of its calls")
    asked.add_argument("--commands", type=int, default=0, help="kill the command so often")
    asked.add_argument("--shops", type=int, default=0, help="shops to estimate a next run for")
    asked.add_argument("--commit", type=Path, help="only book the run in this stock")
    asked.add_argument("--desks", type=int, default=0, help="so many processes at once")
    asked.add_argument("--orders", type=int, default=20, help="orders a desk")
    asked.add_argument("--json", type=Path)
    args = asked.parse_args()
    if args.commit is not None:
        runs.commit(args.commit, RUN, at=AT)
        return
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        for key, asked_for, work in (
            ("steps", args.steps, lambda folder: kill_at_steps(folder, args.steps)),
            ("calls", args.calls, lambda folder: kill_at_calls(folder, args.calls)),
            ("commands", args.commands, lambda folder: kill_commands(folder, args.commands)),
            ("desks", args.desks, lambda folder: many_desks(folder, args.desks, args.orders)),
        ):
            if asked_for:
                folder = Path(name) / key
                folder.mkdir()
                found[key] = work(folder)
                print(f"{key}: {found[key]}")
    if args.shops:
        found["next_runs"] = next_runs(args.shops)
        for row in found["next_runs"]:
            print(row)
    if args.json is not None:
        args.json.write_text(json.dumps(found, indent=2) + "\n")


if __name__ == "__main__":
    main()
