"""What people book by hand: film that came, was used, counted, cut off, thrown away, found spoiled.

Each function is one transaction: it is booked whole or not at all. at: when, as ISO 8601 text.
raises: Fault for what the shelf cannot give, and as `store.writing`.
"""

import re
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job.nearest import nearest
from nestplan.stock.book import (
    ACCOUNTS,
    DIFFERENCE,
    HAND,
    SCRAP,
    SUPPLIER,
    UM_PER_M,
    Kind,
    Spoiled,
    metres,
    um_of_m,
    um_of_mm,
)
from nestplan.stock.shelf import OnShelf, shelf
from nestplan.stock.store import read_book, writing

ID = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,19}")
LENGTH_MOST_M = 10_000.0
SPLICE_UM = UM_PER_M // 100  # a splice is kept clear over a centimetre
Stretch = tuple[Spoiled, float, float]  # what, from and to, metres from the leading edge


def add(
    path: Path,
    *,
    film: str,
    width_mm: float,
    length_m: float,
    at: str,
    id_: str | None = None,
    spoilt: Sequence[Stretch] = (),
    note: str = "",
) -> str:
    """A roll or remnant that came. returns: its id, one of our own where none is given."""
    length = _length_um(length_m, "it is")
    with writing(path, create=True) as db:
        known = shelf(read_book(db, path))
        name = _new_id(id_, known) if id_ is not None else _next_id(known)
        _insert_piece(db, name, film, um_of_mm(width_mm), None, note)
        no = book(db, kind="add", source=SUPPLIER, target=name, length_um=length, at=at)
        for stretch in spoilt:
            _insert_span(db, name, stretch, length, no, note="")
    return name


def use(path: Path, id_: str, length_m: float, *, reason: str, at: str) -> OnShelf:
    """Film taken off the leading end without a plan. returns: the piece after it."""
    return _take(path, id_, length_m, kind="use", target=HAND, reason=reason, at=at)


def scrap(path: Path, id_: str, length_m: float | None, *, reason: str, at: str) -> OnShelf:
    """Film thrown away off the leading end; None: all that is left."""
    return _take(path, id_, length_m, kind="scrap", target=SCRAP, reason=reason, at=at)


def count(path: Path, id_: str, found_m: float, *, reason: str, at: str) -> tuple[OnShelf, int]:
    """What somebody measured is left; the difference is booked, also where it is nothing.

    returns: the piece after it, and what was found more (below 0: less) than the book said, µm.
    """
    found = _length_um(found_m, "it was counted at", least=0)
    with writing(path) as db:
        before = piece_of(shelf(read_book(db, path)), id_, path)
        more = found - before.left_um
        ends = (DIFFERENCE, id_) if more > 0 else (id_, DIFFERENCE)
        book(
            db,
            kind="count",
            source=ends[0],
            target=ends[1],
            length_um=abs(more),
            at=at,
            reason=reason,
        )
        after = shelf(read_book(db, path))[id_]
    return after, more


def cut_off(
    path: Path, id_: str, length_m: float, *, at: str, new_id: str | None = None, note: str = ""
) -> tuple[str, OnShelf]:
    """A remnant cut off the leading end of a piece, with the spoiled film that lies on it.

    returns: its id, and the piece that it was cut off.
    """
    length = _length_um(length_m, "what is cut off is")
    with writing(path) as db:
        known = shelf(read_book(db, path))
        old = piece_of(known, id_, path)
        _refuse_more(old, length, path)
        name = _new_id(new_id, known) if new_id is not None else _next_id(known)
        _insert_piece(db, name, old.piece.film, old.piece.width_um, id_, note)
        no = book(db, kind="cut", source=id_, target=name, length_um=length, at=at)
        for each in old.spoilt:
            if each.from_um < length:
                low, high = each.from_um, min(each.to_um, length)
                db.execute(
                    "INSERT INTO span (piece, kind, from_um, to_um, after, note) "
                    "VALUES (?, ?, ?, ?, ?, ?)",
                    (name, each.kind, low, high, no, each.note),
                )
        after = shelf(read_book(db, path))[id_]
    return name, after


def mark(path: Path, id_: str, spoilt: Sequence[Stretch], *, note: str = "") -> OnShelf:
    """Spoiled film that was found, as it lies now, from the leading edge."""
    with writing(path) as db:
        found = piece_of(shelf(read_book(db, path)), id_, path)
        for stretch in spoilt:
            _insert_span(db, id_, stretch, found.left_um, found.last_no, note)
        return shelf(read_book(db, path))[id_]


def clear(path: Path, id_: str, numbers: Sequence[int]) -> OnShelf:
    """Spoiled film that is not there after all, or is stated anew, by its numbers."""
    with writing(path) as db:
        found = piece_of(shelf(read_book(db, path)), id_, path)
        known = [each.no for each in found.spoilt]
        for number in numbers:
            if number not in known:
                raise Fault(
                    what=f"{id_} has no spoiled stretch {number}",
                    where=str(path),
                    do=f"name one of {', '.join(map(str, known))}" if known else "leave it out",
                )
            db.execute("UPDATE span SET cleared = 1 WHERE no = ?", (number,))
        return shelf(read_book(db, path))[id_]


def book(
    db: sqlite3.Connection,
    *,
    kind: Kind,
    source: str,
    target: str,
    length_um: int,
    at: str,
    plan: str | None = None,
    reason: str = "",
    once: str | None = None,
) -> int:
    """Write one movement. returns: its number."""
    done = db.execute(
        "INSERT INTO movement (at, kind, source, target, length_um, plan, reason, once) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (at, kind, source, target, length_um, plan, reason, once),
    )
    assert done.lastrowid is not None
    return done.lastrowid


def piece_of(known: dict[str, OnShelf], id_: str, path: Path) -> OnShelf:
    """The piece with this id. raises: Fault."""
    if id_ in known:
        return known[id_]
    near = nearest(id_, list(known))
    do = "nestplan stock list SHOP.toml shows all of them"
    raise Fault(
        what=f"the stock has no roll or remnant {id_!r}",
        where=str(path),
        do=f"write {near}, the nearest; {do}" if near else do,
    )


def _take(
    path: Path,
    id_: str,
    length_m: float | None,
    *,
    kind: Kind,
    target: str,
    reason: str,
    at: str,
) -> OnShelf:
    with writing(path) as db:
        found = piece_of(shelf(read_book(db, path)), id_, path)
        length = found.left_um if length_m is None else _length_um(length_m, "what is taken is")
        _refuse_more(found, length, path)
        if length:
            book(db, kind=kind, source=id_, target=target, length_um=length, at=at, reason=reason)
        return shelf(read_book(db, path))[id_]


def _refuse_more(found: OnShelf, length_um: int, path: Path) -> None:
    if length_um > found.left_um:
        raise Fault(
            what=f"{metres(length_um)} of {found.piece.id} cannot be taken: "
            f"{metres(found.left_um)} are left",
            where=str(path),
            do="take less, or if there is more on the core than the book says, count it first: "
            f"nestplan stock count SHOP.toml {found.piece.id} METRES",
            code=OUT_OF_REACH,
        )


def _length_um(length_m: float, says: str, least: int = 1) -> int:
    length = um_of_m(length_m) if abs(length_m) <= LENGTH_MOST_M else -1
    if length < least:
        raise Fault(
            what=f"{says} {length_m:g} m long",
            where="METRES",
            do=f"write metres {'of 0 or more' if least == 0 else 'above 0'}, up to "
            f"{LENGTH_MOST_M:g}",
        )
    return length


def _next_id(known: dict[str, OnShelf]) -> str:
    """P1, P2 …: never one that was given before, for its label may still be about."""
    number = len(known) + 1
    while f"P{number}" in known:
        number += 1
    return f"P{number}"


def _new_id(id_: str, known: dict[str, OnShelf]) -> str:
    if not ID.fullmatch(id_) or id_ in ACCOUNTS:
        raise Fault(
            what=f"{id_!r} cannot be the id of a piece",
            where="--id",
            do="write a letter, then letters, digits and hyphens, 20 signs at most: W-0412",
        )
    if id_ in known:
        raise Fault(
            what=f"{id_} is in the stock already: {known[id_].piece.film}, "
            f"{metres(known[id_].left_um)} left",
            where="--id",
            do="give another id; one that is used up is not given again, its label may be about",
        )
    return id_


def _insert_piece(
    db: sqlite3.Connection, id_: str, film: str, width_um: int, parent: str | None, note: str
) -> None:
    db.execute(
        "INSERT INTO piece (id, film, width_um, parent, note) VALUES (?, ?, ?, ?, ?)",
        (id_, film, width_um, parent, note),
    )


def _insert_span(
    db: sqlite3.Connection, id_: str, stretch: Stretch, left_um: int, after: int, note: str
) -> None:
    kind, from_m, to_m = stretch
    if not 0 <= from_m <= to_m or (kind == "defect" and from_m == to_m):
        raise Fault(
            what=f"a {kind} cannot reach from {from_m:g} to {to_m:g} m",
            where=f"--{kind}",
            do="write metres from the leading edge, the smaller number first",
        )
    low, high = um_of_m(from_m), um_of_m(to_m)
    if low > left_um:
        raise Fault(
            what=f"a {kind} at {metres(low)} lies beyond the end: {metres(left_um)} are left",
            where=f"--{kind}",
            do="write metres from the leading edge as it is now",
        )
    if high == low:
        low, high = max(0, low - SPLICE_UM // 2), low + SPLICE_UM // 2
    db.execute(
        "INSERT INTO span (piece, kind, from_um, to_um, after, note) VALUES (?, ?, ?, ?, ?, ?)",
        (id_, kind, low, high, after, note),
    )
