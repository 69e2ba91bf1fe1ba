"""Whether the book adds up: held against every rule each time it is read. Pure.

The file's own rules should make all of this impossible; a file that was written to by hand, or
mixed together by a folder that copies files behind one's back, is found here.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.stock.book import ACCOUNTS, DIFFERENCE, HAND, LOST, RUN, SCRAP, SUPPLIER, Book, metres

PIECE = "piece"
WAYS = {  # from where to where film goes, by kind of movement
    "add": {(SUPPLIER, PIECE)},
    "use": {(PIECE, HAND)},
    "scrap": {(PIECE, SCRAP)},
    "cut": {(PIECE, PIECE)},
    "count": {(PIECE, DIFFERENCE), (DIFFERENCE, PIECE)},
    "run": {(PIECE, RUN)},
    "back": {(RUN, PIECE)},
    "lost": {(RUN, LOST)},
}


def refuse_wrong_books(book: Book, path: Path) -> None:
    """raises: Fault with the first thing that does not add up."""
    for wrong in audit(book):
        raise Fault(
            what=f"the stock's book does not add up: {wrong}",
            where=str(path),
            do="put back your last copy of the file, and book what was used since",
            code=OUT_OF_REACH,
        )


def audit(book: Book) -> Iterator[str]:
    """Everything that is wrong with a book; nothing where it adds up."""
    pieces = {piece.id for piece in book.pieces}
    yield from _names(book, pieces)
    left: dict[str, int] = defaultdict(int)
    used: dict[str, int] = defaultdict(int)  # by a plan, and not lost
    for each in book.movements:
        way = tuple(PIECE if end in pieces else end for end in (each.source, each.target))
        if way not in WAYS.get(each.kind, set()):
            yield f"movement {each.no}, {each.kind}, goes from {each.source} to {each.target}"
        if each.length_um < 0:
            yield f"movement {each.no} is of {metres(each.length_um)}"
        left[each.source] -= each.length_um
        left[each.target] += each.length_um
        if each.source in pieces and left[each.source] < 0:
            yield f"after movement {each.no} {each.source} has {metres(left[each.source])}"
        if each.kind in ("run", "back", "lost"):
            if each.plan is None:
                yield f"movement {each.no}, {each.kind}, names no plan"
            key = each.plan or ""
            used[key] += each.length_um if each.kind == "run" else -each.length_um
            if used[key] < 0:
                yield f"after movement {each.no} plan {key} has used {metres(used[key])}"
    runs = Counter((each.plan, each.source) for each in book.movements if each.kind == "run")
    for (plan, piece), times in runs.items():
        if times > 1:
            yield f"plan {plan} is booked {times} times on {piece}"
    booked = {plan for plan, _ in runs}
    for reservation in book.reservations:
        if reservation.plan in booked:
            yield f"plan {reservation.plan} is booked and still reserves {reservation.piece}"


def _names(book: Book, pieces: set[str]) -> Iterator[str]:
    if len(pieces) < len(book.pieces):
        yield "two pieces have one id"
    for name in sorted(pieces & set(ACCOUNTS)):
        yield f"a piece is called {name}"
    for piece in book.pieces:
        if piece.parent is not None and piece.parent not in pieces:
            yield f"{piece.id} was cut off {piece.parent}, which nobody knows"
    named = [each.piece for each in book.spans] + [each.piece for each in book.reservations]
    for name in sorted(set(named) - pieces):
        yield f"spoiled or reserved film is of {name}, which nobody knows"
