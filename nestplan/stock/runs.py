"""What plans do to the stock: reserve film, use it once, give back what was not printed, lose
copies.

A plan is known by its id. Each function is one transaction; booking a plan twice books it once.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import ranges
from nestplan.stock.book import LOST, RUN, Book, Movement, Reservation, metres, um_of_mm
from nestplan.stock.enter import book, piece_of
from nestplan.stock.history import Expected, insert_expected, insert_took
from nestplan.stock.shelf import OnShelf, shelf
from nestplan.stock.store import read_book, writing


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Film of a piece that a plan uses, that which is printed on first.

    frames_um: [from, to] of its frames from where it begins: none may lie on spoiled film.
    """

    piece: str
    length_um: int
    frames_um: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRun:
    """A plan as the stock sees it. plan: its id; place: the folder it is written to."""

    plan: str
    job: str
    place: str
    wanted: tuple[Wanted, ...]
    expected: tuple[Expected, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """What came of booking a plan. before: it had been booked already, and nothing was now."""

    plan: str
    pieces: tuple[OnShelf, ...]
    used: tuple[Movement, ...]
    before: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LostCopy:
    """A copy that came to nothing. share_um: its part of the run's film."""

    decal: str
    copy: int
    reason: str
    share_um: int


@contextmanager
def reserving(path: Path, run: PlanRun, *, at: str) -> Iterator[tuple[OnShelf, ...]]:
    """Film reserved while a plan's files are written, and from then on.

    What the same folder had reserved is free again; it is reserved as before if the files cannot
    be written. raises: Fault where others were faster.
    """
    replaced, pieces = reserve(path, run, at=at)
    try:
        yield pieces
    except BaseException:
        with suppress(Fault):
            _put_back(path, run, replaced)
        raise


def reserve(
    path: Path, run: PlanRun, *, at: str
) -> tuple[tuple[Reservation, ...], tuple[OnShelf, ...]]:
    """Reserve a plan's film in place of what its folder had reserved.

    A plan that is booked already reserves nothing. returns: what it replaced; the pieces after it.
    raises: Fault where others were faster.
    """
    with writing(path) as db:
        before = read_book(db, path)
        replaced = tuple(
            each for each in before.reservations if run.place == each.place or run.plan == each.plan
        )
        if not before.runs(run.plan):
            db.executemany(
                "DELETE FROM reservation WHERE no = ?", [(each.no,) for each in replaced]
            )
            known = shelf(read_book(db, path))
            for wanted in run.wanted:
                found = piece_of(known, wanted.piece, path)
                _refuse_more_than_free(found, wanted.length_um, path)
                _refuse_spoilt(found, wanted, found.reserved_um, path)
                db.execute(
                    "INSERT INTO reservation (plan, piece, length_um, job, place, at) "
                    "VALUES (?, ?, ?, ?, ?, ?)",
                    (run.plan, wanted.piece, wanted.length_um, run.job, run.place, at),
                )
        after = shelf(read_book(db, path))
    return replaced, tuple(after[wanted.piece] for wanted in run.wanted)


def _put_back(path: Path, run: PlanRun, replaced: Sequence[Reservation]) -> None:
    """What was reserved before a plan that came to nothing, as far as it is still free."""
    with writing(path) as db:
        db.execute("DELETE FROM reservation WHERE plan = ?", (run.plan,))
        for each in replaced:
            if each.length_um <= shelf(read_book(db, path))[each.piece].free_um:
                db.execute(
                    "INSERT INTO reservation (plan, piece, length_um, job, place, at) "
                    "VALUES (?, ?, ?, ?, ?, ?)",
                    (each.plan, each.piece, each.length_um, each.job, each.place, each.at),
                )


def release(path: Path, plan: str) -> list[Reservation]:
    """Free what a plan has reserved. returns: what that was. raises: Fault where it was nothing."""
    with writing(path) as db:
        held = [each for each in read_book(db, path).reservations if each.plan == plan]
        if not held:
            raise Fault(
                what=f"no film is reserved for plan {plan!r}",
                where=str(path),
                do="nestplan stock list SHOP.toml shows the plans that have film reserved",
            )
        db.execute("DELETE FROM reservation WHERE plan = ?", (plan,))
    return held


def commit(
    path: Path,
    run: PlanRun,
    *,
    at: str,
    took_mm: float | None = None,
    used_mm: float | None = None,
    reason: str = "",
) -> Booked:
    """Book a plan's film as used, once, whatever is reserved for it or not.

    took_mm: what the print really took, where somebody measured it, for the next estimate too.
    used_mm: what it used by its plan, of a print that is known to be done. With either it has been
    printed and lies where it lies; without, a frame on spoiled film is refused.
    """
    printed_mm = used_mm if took_mm is None else took_mm
    with writing(path) as db:
        before = read_book(db, path)
        done = before.runs(run.plan)
        if not done:
            known = shelf(before)
            for wanted in run.wanted:
                length = wanted.length_um if printed_mm is None else um_of_mm(printed_mm)
                found = piece_of(known, wanted.piece, path)
                _refuse_more_than_left(found, length, path)
                if printed_mm is None:  # film that others reserved goes only if it is gone already
                    _refuse_more_than_free(_without(found, run.plan), length, path)
                    _refuse_spoilt(found, wanted, 0, path)
                book(
                    db,
                    kind="run",
                    source=wanted.piece,
                    target=RUN,
                    length_um=length,
                    at=at,
                    plan=run.plan,
                    reason=reason or run.job,
                    once=f"run {run.plan} {wanted.piece}",
                )
            db.execute("DELETE FROM reservation WHERE plan = ?", (run.plan,))
            insert_expected(db, run.plan, run.job, run.expected, at)
            if took_mm is not None:
                insert_took(db, run.plan, {"film": took_mm}, at)
        after = read_book(db, path)
    known = shelf(after)
    used = after.runs(run.plan)
    return Booked(
        plan=run.plan,
        pieces=tuple(known[each.source] for each in used),
        used=tuple(used),
        before=bool(done),
    )


def lose(
    path: Path, plan: str, copies: Sequence[LostCopy], *, at: str
) -> tuple[tuple[LostCopy, ...], int]:
    """Book copies of a booked plan as lost: their share of its film, by reason.

    Copies that were booked as lost before are not booked again. returns: those that were booked
    now, and the film that went with them, µm.
    """
    with writing(path) as db:
        runs = _runs_of(read_book(db, path), plan, path)
        known = {
            (decal, copy)
            for decal, copy in db.execute(
                "SELECT decal, copy FROM lost_copy WHERE plan = ?", (plan,)
            )
        }
        fresh = [each for each in copies if (each.decal, each.copy) not in known]
        by_reason: dict[str, list[LostCopy]] = {}
        for each in fresh:
            by_reason.setdefault(each.reason, []).append(each)
            db.execute(
                "INSERT INTO lost_copy (plan, decal, copy, reason, at) VALUES (?, ?, ?, ?, ?)",
                (plan, each.decal, each.copy, each.reason, at),
            )
        left = _not_lost_um(read_book(db, path), plan)
        gone = 0
        for reason, those in by_reason.items():
            length = min(sum(each.share_um for each in those), left - gone)
            words = _named(those)
            book(
                db,
                kind="lost",
                source=RUN,
                target=LOST,
                length_um=length,
                at=at,
                plan=plan,
                reason=f"{reason}: {words}",
            )
            gone += length
        assert runs
    return tuple(fresh), gone


def _named(copies: Sequence[LostCopy]) -> str:
    """gull 1 to 4, 7; ring 2."""
    numbers: dict[str, list[int]] = {}
    for each in copies:
        numbers.setdefault(each.decal, []).append(each.copy)
    return "; ".join(f"{decal} {ranges(each)}" for decal, each in numbers.items())


def give_back(path: Path, plan: str, used_mm: float, *, reason: str, at: str) -> int:
    """Film that a booked plan did not use after all, for its print broke off, goes back, once.

    used_mm: of the piece that is printed on. returns: what went back, µm.
    """
    with writing(path) as db:
        run = _runs_of(read_book(db, path), plan, path)[0]
        once = f"back {plan}"
        done = db.execute("SELECT length_um FROM movement WHERE once = ?", (once,)).fetchone()
        if done is not None:
            return 0
        back = max(0, run.length_um - um_of_mm(used_mm))
        back = min(back, _not_lost_um(read_book(db, path), plan))
        book(
            db,
            kind="back",
            source=RUN,
            target=run.source,
            length_um=back,
            at=at,
            plan=plan,
            reason=reason,
            once=once,
        )
    return back


def set_took(path: Path, plan: str, took: Mapping[str, float], *, at: str) -> None:
    """What a booked plan took: film in mm, stages in seconds; stated again it is the new figure."""
    with writing(path) as db:
        _runs_of(read_book(db, path), plan, path)
        insert_took(db, plan, took, at)


def _runs_of(stock: Book, plan: str, path: Path) -> list[Movement]:
    runs = stock.runs(plan)
    if not runs:
        raise Fault(
            what=f"the film of plan {plan!r} is not booked",
            where=str(path),
            do="book it first: nestplan plan JOB.toml --out DIR --commit",
        )
    return runs


def _not_lost_um(stock: Book, plan: str) -> int:
    """Film that a plan has used, did not give back and did not lose."""
    signs = {"run": 1, "back": -1, "lost": -1}
    return sum(
        signs[each.kind] * each.length_um
        for each in stock.movements
        if each.plan == plan and each.kind in signs
    )


def _without(found: OnShelf, plan: str) -> OnShelf:
    """The piece as if this plan had nothing reserved."""
    return replace(found, reserved=tuple(each for each in found.reserved if each.plan != plan))


def _refuse_more_than_free(found: OnShelf, length_um: int, path: Path) -> None:
    if length_um > found.free_um:
        plans = ", ".join(f"{each.plan} ({each.job})" for each in found.reserved)
        held = f", {metres(found.reserved_um)} of them reserved for {plans}" if plans else ""
        raise Fault(
            what=f"{metres(length_um)} of {found.piece.id} are wanted, {metres(found.left_um)} are "
            f"left{held}",
            where=str(path),
            do="plan again: another piece may be free; or free a plan that is given up: nestplan "
            "stock free SHOP.toml PLAN",
            code=OUT_OF_REACH,
        )


def _refuse_more_than_left(found: OnShelf, length_um: int, path: Path) -> None:
    if length_um > found.left_um:
        raise Fault(
            what=f"the run takes {metres(length_um)} of {found.piece.id}, {metres(found.left_um)} "
            "are left by the book",
            where=str(path),
            do="plan again; if there is more on the core than the book says, count it first: "
            f"nestplan stock count SHOP.toml {found.piece.id} METRES",
            code=OUT_OF_REACH,
        )


def _refuse_spoilt(found: OnShelf, wanted: Wanted, before_um: int, path: Path) -> None:
    """The roll may have moved on since the plan was made: its frames then lie elsewhere on it."""
    for spoilt in found.behind(before_um):
        for number, (low, high) in enumerate(wanted.frames_um, start=1):
            if low < spoilt.to_um and high > spoilt.from_um:
                raise Fault(
                    what=f"frame {number} would lie on the {spoilt.kind} of {found.piece.id} from "
                    f"{metres(spoilt.from_um)} to {metres(spoilt.to_um)}: the piece has moved on "
                    "since it was planned",
                    where=str(path),
                    do="plan again before it is printed; if it is printed already, say how much "
                    "film it took: --commit --took METRES",
                    code=OUT_OF_REACH,
                )
