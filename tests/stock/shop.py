"""A stock to test with: one film, made on disk in a moment."""

from pathlib import Path

from nestplan.stock import enter, open_book
from nestplan.stock.book import um_of_m
from nestplan.stock.runs import PlanRun, Wanted
from nestplan.stock.shelf import OnShelf, shelf

AT = "2027-05-14T08:00:00+02:00"
FILM = "white gloss 1370"


def roll(path: Path, length_m: float, *spoilt, id_: str | None = None) -> str:
    return enter.add(
        path, film=FILM, width_mm=1370, length_m=length_m, id_=id_, spoilt=spoilt, at=AT
    )


def on_shelf(path: Path, id_: str = "P1") -> OnShelf:
    return shelf(open_book(path))[id_]


def run_of(plan: str, length_m: float, piece: str = "P1", *, place: str = "", frames_m=()):
    """A plan of one piece. frames_m: from and to of its frames."""
    frames = tuple((um_of_m(a), um_of_m(b)) for a, b in frames_m)
    wanted = Wanted(piece=piece, length_um=um_of_m(length_m), frames_um=frames)
    return PlanRun(plan=plan, job=f"job {plan}", place=place or f"/{plan}", wanted=(wanted,))


def spoilt_m(piece: OnShelf) -> list[tuple[float, float]]:
    return [(each.from_um / 1e6, each.to_um / 1e6) for each in piece.spoilt]
