"""Which piece a job is printed on: the one it names, else the shortest that holds the run.

Plans take their turn: film that others have reserved of a piece is used before, so a run begins
behind it, and what is spoiled lies nearer by as much.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestplan.faults import OUT_OF_REACH, Fault, Note
from nestplan.job import Job
from nestplan.stock.book import UM_PER_M, UM_PER_MM, metres, um_of_mm
from nestplan.stock.enter import piece_of
from nestplan.stock.shelf import OnShelf, shelf
from nestplan.stock.store import has_stock, read_book, reading, stock_path

Frames = Sequence[tuple[int, int]]  # from and to of every frame, from where the run begins, µm


@dataclass(frozen=True, slots=True, kw_only=True)
class FromStock:
    """Pieces that a job may be printed on and those that may go over it, all with film free.

    named: the job names the piece. laminates: None where the stock does not keep the laminate, or
    none is asked for.
    """

    pieces: tuple[OnShelf, ...]
    laminates: tuple[OnShelf, ...] | None
    named: bool

    @property
    def longest(self) -> OnShelf:
        """The piece with most film free; of equal ones that which came first."""
        return max(self.pieces, key=lambda each: each.free_um)


def film_from_stock(job: Job, place: str | None = None) -> FromStock | None:
    """The shop's stock as a job sees it; None where the shop keeps none, or not of this film.

    place: the folder the plan goes to; what that folder had reserved counts as free.
    raises: Fault where the job names a piece that will not do, or nothing is left.
    """
    where = f"{job.path.name}, piece"
    if not has_stock(job.shop_path):
        if job.order.piece is not None:
            raise Fault(
                what=f"the job names the piece {job.order.piece}, and the shop keeps no stock",
                where=where,
                do="delete piece, or begin a stock: nestplan stock add SHOP.toml FILM METRES",
            )
        return None
    path = stock_path(job.shop_path)
    with reading(path) as db:
        known = shelf(read_book(db, path))
    known = {name: _without(each, place) for name, each in known.items()}
    laminates = _laminates(job, known)
    if job.order.piece is not None:
        piece = piece_of(known, job.order.piece, path)
        if piece.piece.film != job.roll.name:
            raise Fault(
                what=f'{piece.piece.id} is "{piece.piece.film}", the job is for "{job.roll.name}"',
                where=where,
                do="name a piece of that film, or write its film as roll",
            )
        if piece.free_um <= 0:
            raise _nothing_free(f"{piece.piece.id}, {metres(piece.left_um)},", where)
        return FromStock(pieces=(piece,), laminates=laminates, named=True)
    of_film = [each for each in known.values() if each.piece.film == job.roll.name]
    if not of_film:
        return None
    wide = um_of_mm(job.roll.width_mm)
    free = tuple(each for each in of_film if each.free_um > 0 and each.piece.width_um == wide)
    if not free:
        raise _nothing_free(f'"{job.roll.name}" of full width', f"{job.path.name}, roll")
    return FromStock(pieces=free, laminates=laminates, named=False)


def film_at_hand(job: Job) -> Job:
    """The job on the film that its stock has, its longest piece; unchanged where none is kept.

    For what plans a run to look at it, and reserves nothing. raises: Fault.
    """
    stock = film_from_stock(job)
    return job if stock is None else on_piece(job, stock.longest)


def on_piece(job: Job, piece: OnShelf, *, spoilt: bool = True) -> Job:
    """The job on this piece behind what is reserved. spoilt: its spoiled film is kept clear."""
    roll = job.roll.model_copy(
        update={
            "left_m": piece.free_um / UM_PER_M,
            "width_mm": piece.piece.width_um / UM_PER_MM,
            "avoid_m": piece.avoid_m(piece.reserved_um) if spoilt else [],
        }
    )
    return replace(job, roll=roll, piece=piece.piece.id, piece_no=piece.last_no)


def shortest(pieces: Sequence[OnShelf], used_um: int, frames: Frames) -> OnShelf | None:
    """The piece with least film free that holds the run, no frame on spoiled film; or none."""
    holding = [each for each in pieces if each.free_um >= used_um and _is_clear(each, frames)]
    return min(holding, key=lambda each: each.free_um, default=None)


def with_laminate(job: Job, stock: FromStock, used_um: int) -> Job:
    """The job with the laminate that goes over it: the shortest that is whole so far.

    raises: Fault where no piece is long enough.
    """
    if stock.laminates is None:
        return job
    over = shortest(stock.laminates, used_um, ((0, used_um),))
    if over is None:
        have = ", ".join(f"{each.piece.id} {metres(each.free_um)}" for each in stock.laminates)
        raise Fault(
            what=f"no piece of the laminate holds {metres(used_um)} without a fault; free are "
            f"{have or 'none'}",
            where=f"{job.path.name}, laminate",
            do="put another roll on the shelf, or cut the spoiled end off one",
            code=OUT_OF_REACH,
        )
    return replace(job, laminate_piece=over.piece.id)


def piece_note(stock: FromStock, chosen: OnShelf) -> Note:
    """Why it is this piece."""
    if stock.named:
        why = "as the job says"
    elif len(stock.pieces) == 1:
        why = "the only piece of this film with film free"
    else:
        why = f"the shortest of {len(stock.pieces)} pieces that holds the run"
    text = f"on {chosen.piece.id}, {why}: {metres(chosen.free_um)} free"
    if chosen.reserved:
        held = ", ".join(dict.fromkeys(each.job for each in chosen.reserved))
        text += f", behind {metres(chosen.reserved_um)} reserved for {held}"
    return Note(level="know", where="stock", text=text)


def _is_clear(piece: OnShelf, frames: Frames) -> bool:
    spoilt = piece.behind(piece.reserved_um)
    return not any(low < s.to_um and high > s.from_um for s in spoilt for low, high in frames)


def _laminates(job: Job, known: dict[str, OnShelf]) -> tuple[OnShelf, ...] | None:
    """Pieces of the job's laminate that are wide enough."""
    if job.laminate is None:
        return None
    of_film = [each for each in known.values() if each.piece.film == job.laminate.name]
    if not of_film:
        return None
    least = um_of_mm(job.roll.width_mm)
    return tuple(each for each in of_film if each.free_um > 0 and each.piece.width_um >= least)


def _without(piece: OnShelf, place: str | None) -> OnShelf:
    """Without what the plan's own folder has reserved: it is about to be replaced."""
    return replace(piece, reserved=tuple(each for each in piece.reserved if each.place != place))


def _nothing_free(named: str, where: str) -> Fault:
    return Fault(
        what=f"no film of {named} is free in the stock",
        where=where,
        do="nestplan stock list SHOP.toml shows what is left and what is reserved; add a roll, or "
        "free a plan that is given up",
        code=OUT_OF_REACH,
    )
