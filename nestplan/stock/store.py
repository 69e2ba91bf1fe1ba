"""The stock file: opened, read whole, written in one transaction or not at all.

A rollback journal, not a write-ahead log: the latter needs memory that all desks share, which a
folder on a network does not give. A desk that writes first takes the file's lock, so that what it
reads is what it changes; others wait for it.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.stock.audit import refuse_wrong_books
from nestplan.stock.book import Book, Movement, Piece, Reservation, Span
from nestplan.stock.tables import APPLICATION, TABLES, VERSION

STOCK = "stock.sqlite"
PATIENCE_S = 20.0  # how long a desk waits for the others
SLOW = (
    "PRAGMA synchronous = EXTRA",  # the journal's own name is flushed too
    "PRAGMA foreign_keys = ON",
    "PRAGMA trusted_schema = OFF",
)


def stock_path(shop: Path) -> Path:
    """Where a shop's stock lies: beside its shop file."""
    return shop.parent / STOCK


def has_stock(shop: Path) -> bool:
    """Whether a shop keeps a stock."""
    return stock_path(shop).exists()


@contextmanager
def reading(path: Path, patience_s: float = PATIENCE_S) -> Iterator[sqlite3.Connection]:
    """A transaction that only reads: everything in it is of one moment. raises: Fault."""
    with _faults_of(path), _opened(path, patience_s, "rw") as db:
        db.execute("BEGIN")
        _refuse_foreign(db, path)
        yield db


@contextmanager
def writing(
    path: Path, *, create: bool = False, patience_s: float = PATIENCE_S
) -> Iterator[sqlite3.Connection]:
    """A transaction that holds the file's lock from the start; undone when anything is raised.

    create: makes the file where there is none. raises: Fault.
    """
    with _faults_of(path), _opened(path, patience_s, "rwc" if create else "rw") as db:
        db.execute("BEGIN IMMEDIATE")
        if create and _is_empty(db):
            for table in TABLES:
                db.execute(table)
            db.execute(f"PRAGMA application_id = {APPLICATION}")
            db.execute(f"PRAGMA user_version = {VERSION}")
        _refuse_foreign(db, path)
        yield db
        db.execute("COMMIT")


def read_book(db: sqlite3.Connection, path: Path) -> Book:
    """Everything, as it stands at this moment. raises: Fault where it does not add up."""
    book = Book(
        pieces=[
            Piece(id=a, film=b, width_um=c, parent=d, note=e)
            for a, b, c, d, e in db.execute(
                "SELECT id, film, width_um, parent, note FROM piece ORDER BY rowid"
            )
        ],
        movements=[
            Movement(
                no=no,
                at=at,
                kind=kind,
                source=source,
                target=target,
                length_um=length,
                plan=plan,
                reason=reason,
                once=once,
            )
            for no, at, kind, source, target, length, plan, reason, once in db.execute(
                "SELECT no, at, kind, source, target, length_um, plan, reason, once "
                "FROM movement ORDER BY no"
            )
        ],
        spans=[
            Span(
                no=no,
                piece=piece,
                kind=kind,
                from_um=low,
                to_um=high,
                after=after,
                note=note,
                cleared=bool(cleared),
            )
            for no, piece, kind, low, high, after, note, cleared in db.execute(
                "SELECT no, piece, kind, from_um, to_um, after, note, cleared FROM span ORDER BY no"
            )
        ],
        reservations=[
            Reservation(
                no=no, plan=plan, piece=piece, length_um=length, job=job, place=place, at=at
            )
            for no, plan, piece, length, job, place, at in db.execute(
                "SELECT no, plan, piece, length_um, job, place, at FROM reservation ORDER BY no"
            )
        ],
    )
    refuse_wrong_books(book, path)
    return book


def open_book(path: Path) -> Book:
    """The book as it stands now. raises: Fault."""
    with reading(path) as db:
        return read_book(db, path)


@contextmanager
def _opened(path: Path, patience_s: float, mode: str) -> Iterator[sqlite3.Connection]:
    if mode == "rw" and not path.is_file():
        raise Fault(
            what="the shop keeps no stock yet",
            where=str(path),
            do="begin one: nestplan stock add SHOP.toml FILM METRES",
        )
    uri = f"{path.resolve().as_uri()}?mode={mode}"
    db = sqlite3.connect(uri, uri=True, timeout=patience_s, isolation_level=None)
    try:
        for pragma in SLOW:
            db.execute(pragma)
        yield db
    finally:
        db.close()  # what was not committed is undone


def _is_empty(db: sqlite3.Connection) -> bool:
    return int(db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]) == 0


def _refuse_foreign(db: sqlite3.Connection, path: Path) -> None:
    application = db.execute("PRAGMA application_id").fetchone()[0]
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if _is_empty(db):
        raise Fault(
            what="the stock file is empty",
            where=str(path),
            do="put back your copy of it, or delete it and begin anew with nestplan stock add",
        )
    if application != APPLICATION:
        raise Fault(
            what=f"{path.name} is no stock file, but a database of another program",
            where=str(path),
            do="move it away; the stock wants this name in the shop's folder",
        )
    if version != VERSION:
        raise Fault(
            what=f"the stock file has version {version}, this nestplan knows {VERSION}",
            where=str(path),
            do="take the nestplan that wrote it, or a later one",
        )


@contextmanager
def _faults_of(path: Path) -> Iterator[None]:
    """What SQLite refuses, said for people."""
    try:
        yield
    except sqlite3.IntegrityError:  # a rule of the file that the code should have kept
        raise
    except sqlite3.OperationalError as error:
        raise _refused(path, str(error)) from error
    except sqlite3.DatabaseError as error:
        raise Fault(
            what=f"the stock file is damaged: {error}",
            where=str(path),
            do="put back your last copy of it, and book what was used since by nestplan stock use",
            code=OUT_OF_REACH,
        ) from error


def _refused(path: Path, error: str) -> Fault:
    if "locked" in error or "busy" in error:
        what = f"another desk holds the stock file; it was waited for {PATIENCE_S:g} s"
        do = "try again; if nobody is at it, end the program that has it open"
    elif "readonly" in error or "unable to open" in error:
        what = "the stock file cannot be written"
        do = "ask for the right to write in the shop's folder"
    elif "full" in error:
        what, do = "the disk of the stock file is full", "free some space there"
    else:
        what, do = f"the stock file cannot be used: {error}", "see whether its disk can be reached"
    return Fault(what=what, where=str(path), do=f"{do}; nothing was booked", code=OUT_OF_REACH)
