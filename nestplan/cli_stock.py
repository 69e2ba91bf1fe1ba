"""The commands of the stock: what is on the shelf, what came, what went, and what runs took."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from nestplan import __version__
from nestplan.faults import Fault
from nestplan.terminal import faults_to_words, now, say, say_json

SHOP = click.argument("shop", metavar="SHOP.toml", type=click.Path(path_type=Path))
PIECE = click.argument("piece", metavar="ID")
METRES = click.argument("metres", type=float)
REASON = click.option("--reason", default="", help="Why, for the book.")
JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
DEFECT = click.option("--defect", "defects", multiple=True, help="Spoiled film, 4.2-4.5 (m).")
SPLICE = click.option("--splice", "splices", multiple=True, type=float, help="A splice, at m.")


@click.group()
def stock() -> None:
    """Keep rolls and remnants: what came, what is left, what plans reserve and use.

    The stock lies beside the shop file, as stock.sqlite. Lengths count from the leading edge.
    """


@stock.command(context_settings={"ignore_unknown_options": True})
@SHOP
@click.argument("film")
@METRES
@click.option("--width", type=float, help="Width in mm, where it is not the film's.")
@click.option("--id", "id_", help="An id of your own; else P1, P2 and so on.")
@click.option("--note", default="", help="A few words for the label.")
@DEFECT
@SPLICE
@JSON
def add(
    shop: Path,
    film: str,
    metres: float,
    width: float | None,
    id_: str | None,
    note: str,
    defects: tuple[str, ...],
    splices: tuple[float, ...],
    as_json: bool,
) -> None:
    """Put a roll or remnant of a FILM of the shop file on the shelf, METRES long."""
    with faults_to_words(as_json):
        from nestplan.stock import enter, film_of, stock_path

        path = stock_path(shop)
        width_mm = film_of(shop, film, width)
        spoilt = _stretches(defects, splices)
        name = enter.add(
            path,
            film=film,
            width_mm=width_mm,
            length_m=metres,
            id_=id_,
            spoilt=spoilt,
            note=note,
            at=now(),
        )
        _say_piece(path, name, as_json)


@stock.command(context_settings={"ignore_unknown_options": True})
@SHOP
@PIECE
@METRES
@click.option("--scrap", is_flag=True, help="It was thrown away.")
@REASON
@JSON
def use(shop: Path, piece: str, metres: float, scrap: bool, reason: str, as_json: bool) -> None:
    """Book METRES taken off the leading end of a piece without a plan."""
    from nestplan.stock import enter

    taken: Callable[..., Any] = enter.scrap if scrap else enter.use
    _booked(shop, piece, as_json, lambda path: taken(path, piece, metres, reason=reason, at=now()))


@stock.command(context_settings={"ignore_unknown_options": True})
@SHOP
@PIECE
@METRES
@REASON
@JSON
def count(shop: Path, piece: str, metres: float, reason: str, as_json: bool) -> None:
    """Book what was counted: METRES are left of a piece; the difference stands in the book."""
    with faults_to_words(as_json):
        from nestplan.stock import enter, stock_path
        from nestplan.stock.words import counted_words, piece_json

        found, more = enter.count(stock_path(shop), piece, metres, reason=reason, at=now())
        if as_json:
            say_json({**piece_json(found), "difference_m": more / 1e6})
        else:
            say(counted_words(found, more))


@stock.command(context_settings={"ignore_unknown_options": True})
@SHOP
@PIECE
@METRES
@click.option("--id", "id_", help="An id of your own for the remnant.")
@click.option("--note", default="", help="A few words for the label.")
@JSON
def cut(shop: Path, piece: str, metres: float, id_: str | None, note: str, as_json: bool) -> None:
    """Cut METRES off the leading end of a piece: a remnant with an id of its own."""
    with faults_to_words(as_json):
        from nestplan.stock import enter, stock_path

        path = stock_path(shop)
        name, _ = enter.cut_off(path, piece, metres, new_id=id_, note=note, at=now())
        _say_piece(path, name, as_json)


@stock.command()
@SHOP
@PIECE
@DEFECT
@SPLICE
@click.option("--clear", "cleared", multiple=True, type=int, help="One that is not there: its no.")
@click.option("--note", default="", help="What is wrong, in a few words.")
@JSON
def mark(
    shop: Path,
    piece: str,
    defects: tuple[str, ...],
    splices: tuple[float, ...],
    cleared: tuple[int, ...],
    note: str,
    as_json: bool,
) -> None:
    """State spoiled film of a piece, as it lies now: plans keep clear of it."""
    with faults_to_words(as_json):
        from nestplan.stock import enter, stock_path

        path = stock_path(shop)
        spoilt = _stretches(defects, splices)
        if not spoilt and not cleared:
            raise Fault(
                what="nothing is stated",
                where="nestplan stock mark",
                do="write --defect 4.2-4.5, --splice 12.1 or --clear NUMBER",
            )
        if cleared:
            enter.clear(path, piece, cleared)
        if spoilt:
            enter.mark(path, piece, spoilt, note=note)
        _say_piece(path, piece, as_json)


@stock.command("list")
@SHOP
@click.argument("piece", metavar="[ID]", required=False)
@click.option("--all", "all_", is_flag=True, help="Used-up pieces too.")
@JSON
def list_(shop: Path, piece: str | None, all_: bool, as_json: bool) -> None:
    """Show the shelf, or every movement of one piece."""
    with faults_to_words(as_json):
        from nestplan.stock import open_book, stock_path
        from nestplan.stock.enter import piece_of
        from nestplan.stock.shelf import shelf
        from nestplan.stock.words import ledger_json, ledger_words, list_words, piece_json

        path = stock_path(shop)
        book = open_book(path)
        known = shelf(book)
        if piece is not None:
            found = piece_of(known, piece, path)
            if as_json:
                say_json({**piece_json(found), "movements": ledger_json(book, found)})
            else:
                say(ledger_words(book, found))
            return
        if as_json:
            say_json([piece_json(each) for each in known.values() if all_ or each.left_um])
        else:
            say(list_words(known, path, all_=all_))


@stock.command()
@SHOP
@click.argument("pieces", metavar="ID...", nargs=-1, required=True)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The PDF to write.")
@JSON
def label(shop: Path, pieces: tuple[str, ...], out: Path, as_json: bool) -> None:
    """Write a label for each piece: id, film, length left, what is spoiled, and a code."""
    with faults_to_words(as_json):
        from nestplan.files import write_together
        from nestplan.stock import open_book, stock_path
        from nestplan.stock.enter import piece_of
        from nestplan.stock.label import label_pdf
        from nestplan.stock.shelf import shelf

        if out.suffix.lower() != ".pdf":
            raise Fault(what=f"{out.name} is no PDF", where="--out", do="name a file .pdf")
        path = stock_path(shop)
        known = shelf(open_book(path))
        found = [piece_of(known, each, path) for each in pieces]
        write_together(out.parent, {out.name: label_pdf(found, __version__)}, last=out.name)
        if as_json:
            say_json({"file": str(out), "pieces": [each.piece.id for each in found]})
        else:
            say(f"{out}: {len(found)} of 100 by 60 mm, for {', '.join(pieces)}")


@stock.command()
@SHOP
@click.argument("plan")
@JSON
def free(shop: Path, plan: str, as_json: bool) -> None:
    """Free the film that a plan has reserved: it will not be printed."""
    with faults_to_words(as_json):
        from nestplan.stock import runs, stock_path
        from nestplan.stock.book import metres

        held = runs.release(stock_path(shop), plan)
        if as_json:
            say_json({each.piece: each.length_um / 1e6 for each in held})
        else:
            say("\n".join(f"{each.piece}: {metres(each.length_um)} free again" for each in held))


@stock.command()
@SHOP
@click.argument("plan")
@click.option("--film", type=float, help="Metres of film.")
@click.option("--print", "print_", help="Time to print: 33:47, 52 min.")
@click.option("--laminate", help="Time to laminate.")
@click.option("--cut", "cut_", help="Time to cut.")
@click.option("--run", "run_", help="Time door to door.")
@JSON
def took(
    shop: Path,
    plan: str,
    film: float | None,
    print_: str | None,
    laminate: str | None,
    cut_: str | None,
    run_: str | None,
    as_json: bool,
) -> None:
    """Say what a booked PLAN really took, so that the next estimate knows."""
    with faults_to_words(as_json):
        from nestplan.stock import runs, stock_path

        times = {"print": print_, "laminate": laminate, "cut": cut_, "run": run_}
        amounts = _amounts(film, times)
        runs.set_took(stock_path(shop), plan, amounts, at=now())
        if as_json:
            say_json({"plan": plan, "took": amounts})
        else:
            say(f"{plan}: {', '.join(amounts)} noted")


@stock.command()
@SHOP
@click.option("--setup", help="Of which setup; the shop's first when left out.")
@JSON
def history(shop: Path, setup: str | None, as_json: bool) -> None:
    """Show how far runs were off their estimates, and what to expect of the next."""
    with faults_to_words(as_json):
        from nestplan.stock import corrections, read_outcomes, setup_of, stock_path
        from nestplan.stock.words import history_json, history_words

        named = setup_of(shop, setup)
        found = corrections(read_outcomes(stock_path(shop)), setup=named)
        if as_json:
            say_json(history_json(found, named))
        else:
            say(history_words(found, named))


def _booked(shop: Path, piece: str, as_json: bool, book: Callable[[Path], Any]) -> None:
    """Book something and show the piece after it."""
    with faults_to_words(as_json):
        from nestplan.stock import stock_path

        path = stock_path(shop)
        book(path)
        _say_piece(path, piece, as_json)


def _say_piece(path: Path, piece: str, as_json: bool) -> None:
    from nestplan.stock import open_book
    from nestplan.stock.shelf import shelf
    from nestplan.stock.words import piece_json, piece_words

    found = shelf(open_book(path))[piece]
    say_json(piece_json(found)) if as_json else say(piece_words(found))


def _stretches(defects: tuple[str, ...], splices: tuple[float, ...]) -> list[Any]:
    """What --defect and --splice say. raises: Fault."""
    found: list[Any] = [("splice", at, at) for at in splices]
    for text in defects:
        low, _, high = text.partition("-")
        try:
            found.append(("defect", float(low), float(high)))
        except ValueError:
            raise Fault(
                what=f"{text!r} is no stretch of film",
                where="--defect",
                do="write from and to in metres from the leading edge, with a hyphen: 4.2-4.5",
            ) from None
    return found


def _amounts(film: float | None, times: dict[str, str | None]) -> dict[str, float]:
    """Film in mm, times in seconds. raises: Fault."""
    from nestplan.learn.timings import seconds_of

    amounts = {}
    if film is not None:
        if not 0 < film <= 10_000:
            raise Fault(what=f"film is {film:g} m", where="--film", do="write metres above 0")
        amounts["film"] = film * 1000
    for stage, text in times.items():
        if text is None:
            continue
        seconds = seconds_of(text)
        if not seconds:
            raise Fault(
                what=f"{text!r} is no time above 0",
                where=f"--{stage}",
                do="write 33:47 (minutes and seconds), 1:02:10, or 52 min 24 s",
            )
        amounts[stage] = seconds
    if not amounts:
        raise Fault(
            what="nothing is said of what it took",
            where="nestplan stock took",
            do="write --film METRES, --print, --laminate, --cut or --run TIME",
        )
    return amounts
