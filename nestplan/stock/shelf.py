"""What is on the shelf: the book's movements added up, piece by piece. Pure.

All film leaves a piece at its leading edge, so spoiled film comes nearer by what is used. A count
that differs from the book leaves two readings: film was used that nobody booked, or the roll was
never as long. Spoiled film is then kept clear where it lies by either of them, until somebody
measures it anew.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from nestplan.stock.book import UM_PER_M, Book, Movement, Piece, Reservation, Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoilt:
    """A span where it lies now, from the leading edge."""

    no: int
    kind: str
    from_um: int
    to_um: int
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShelf:
    """A piece as it is now. last_no: its last movement."""

    piece: Piece
    left_um: int
    spoilt: tuple[Spoilt, ...]
    reserved: tuple[Reservation, ...]
    last_no: int
    last_at: str

    @property
    def reserved_um(self) -> int:
        """What plans have reserved of it, maybe more than is left."""
        return sum(each.length_um for each in self.reserved)

    @property
    def free_um(self) -> int:
        """What is left and not reserved; below 0 where more is reserved than is left."""
        return self.left_um - self.reserved_um

    @property
    def is_remnant(self) -> bool:
        """Whether it was cut off another piece."""
        return self.piece.parent is not None

    def behind(self, reserved_um: int) -> tuple[Spoilt, ...]:
        """Spoiled film from the leading edge that is left once so much has been used."""
        return _moved(self.spoilt, -reserved_um)

    def avoid_m(self, used_um: int = 0) -> list[list[float]]:
        """Spoiled stretches [from, to], rising and apart, once so much has been used; metres."""
        merged: list[list[int]] = []
        for each in sorted((s.from_um, s.to_um) for s in self.behind(used_um)):
            if merged and each[0] <= merged[-1][1]:
                merged[-1][1] = max(merged[-1][1], each[1])
            else:
                merged.append(list(each))
        return [[a / UM_PER_M, b / UM_PER_M] for a, b in merged]


def shelf(book: Book) -> dict[str, OnShelf]:
    """Every piece by its id, in the order they came; used-up ones too."""
    by_piece: dict[str, list[Movement]] = {piece.id: [] for piece in book.pieces}
    for movement in book.movements:
        for account in dict.fromkeys((movement.source, movement.target)):
            if account in by_piece:
                by_piece[account].append(movement)
    return {
        piece.id: _on_shelf(
            piece,
            by_piece[piece.id],
            [each for each in book.spans if each.piece == piece.id and not each.cleared],
            tuple(each for each in book.reservations if each.piece == piece.id),
        )
        for piece in book.pieces
    }


def change_um(movement: Movement, piece: str) -> int:
    """How much longer a movement makes a piece; below 0: shorter."""
    came = movement.length_um if movement.target == piece else 0
    return came - (movement.length_um if movement.source == piece else 0)


def left_um(movements: Iterable[Movement], piece: str) -> int:
    """What came in less what went out."""
    return sum(change_um(each, piece) for each in movements)


def _on_shelf(
    piece: Piece, movements: list[Movement], spans: list[Span], reserved: tuple[Reservation, ...]
) -> OnShelf:
    left = left_um(movements, piece.id)
    spoilt = [_now(span, movements) for span in spans]
    return OnShelf(
        piece=piece,
        left_um=left,
        spoilt=tuple(
            sorted(
                (each for each in _kept(spoilt) if each.from_um < left),
                key=lambda each: (each.from_um, each.to_um, each.no),
            )
        ),
        reserved=reserved,
        last_no=max((each.no for each in movements), default=0),
        last_at=movements[-1].at if movements else "",
    )


def _now(span: Span, movements: list[Movement]) -> Spoilt:
    """Where a span lies now; before the leading edge where it was used, for film may come back."""
    low, high = span.from_um, span.to_um
    for movement in movements:
        if movement.no > span.after:
            change = change_um(movement, span.piece)
            is_count = movement.kind == "count"
            low += min(change, 0) if is_count else change
            high += max(change, 0) if is_count else change
    return Spoilt(no=span.no, kind=span.kind, from_um=low, to_um=high, note=span.note)


def _moved(spoilt: Iterable[Spoilt], by_um: int) -> tuple[Spoilt, ...]:
    """Seen from a leading edge that lies elsewhere."""
    return _kept(
        replace(each, from_um=each.from_um + by_um, to_um=each.to_um + by_um) for each in spoilt
    )


def _kept(spoilt: Iterable[Spoilt]) -> tuple[Spoilt, ...]:
    """What lies behind the leading edge."""
    return tuple(replace(each, from_um=max(0, each.from_um)) for each in spoilt if each.to_um > 0)
