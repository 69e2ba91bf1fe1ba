"""What the stock's commands say, for people and for programs."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from nestplan import figures
from nestplan.stock.book import UM_PER_M, UM_PER_MM, Book, metres
from nestplan.stock.carried import Carried
from nestplan.stock.correction import Correction
from nestplan.stock.enter import SPLICE_UM
from nestplan.stock.history import Stage
from nestplan.stock.runs import Booked
from nestplan.stock.shelf import OnShelf, change_um

TABLE = ("id", "film", "width", "left", "reserved", "free", "spoiled", "since")


def list_words(known: Mapping[str, OnShelf], path: Path, *, all_: bool) -> str:
    """The shelf, a line a piece; used-up ones only if asked for."""
    shown = [each for each in known.values() if all_ or each.left_um > 0]
    if not shown:
        return f"{path}: nothing is on the shelf"
    rows = [TABLE, *(_row(each) for each in shown)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(TABLE))]
    right = {3, 4, 5}
    lines = [
        "  ".join(
            f"{cell:>{w}}" if k in right else f"{cell:<{w}}"
            for k, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    total = metres(sum(each.left_um for each in shown))
    head = f"{path}: {figures.count(len(shown), 'piece')}, {total} of film"
    held = [
        f"  {each.plan}  {metres(each.length_um)} of {each.piece} for {each.job}, since "
        f"{_day(each.at)}"
        for piece in shown
        for each in piece.reserved
    ]
    over = [f"  look   {words}" for each in shown for words in over_reserved(each)]
    parts = [head, "", *(f"  {line}" for line in lines)]
    parts += ["", "reserved by plan:", *held] if held else []
    return "\n".join([*parts, *(["", *over] if over else [])])


def _row(each: OnShelf) -> tuple[str, ...]:
    return (
        each.piece.id,
        each.piece.film,
        str(figures.length(each.piece.width_um / UM_PER_MM, 0)),
        metres(each.left_um),
        metres(each.reserved_um) if each.reserved else "",
        metres(each.free_um),
        spoilt_words(each),
        _day(each.last_at),
    )


def spoilt_words(each: OnShelf) -> str:
    """1: splice 12.10 m; 2: defect 4.20-4.50 m."""
    words = []
    for spoilt in each.spoilt:
        low, high = spoilt.from_um / UM_PER_M, spoilt.to_um / UM_PER_M
        at = f"{low:.2f} to {high:.2f} m"
        if spoilt.to_um - spoilt.from_um <= SPLICE_UM:
            at = f"{(low + high) / 2:.2f} m"
        words.append(f"{spoilt.no}: {spoilt.kind} {at}")
    return "; ".join(words)


def over_reserved(each: OnShelf) -> list[str]:
    """A person must know where more is reserved than is left."""
    if each.free_um >= 0:
        return []
    plans = ", ".join(f"{held.plan} ({held.job})" for held in each.reserved)
    return [
        f"{each.piece.id} has {metres(each.left_um)} left and {metres(each.reserved_um)} reserved: "
        f"plan again one of {plans}"
    ]


def ledger_words(book: Book, each: OnShelf) -> str:
    """Every movement of a piece and what was left after it: each metre accounted for."""
    name, left = each.piece.id, 0
    lines = []
    for movement in book.movements:
        if name not in (movement.source, movement.target):
            continue
        change = change_um(movement, name)
        left += change
        other = movement.target if movement.source == name else movement.source
        why = "  ".join(filter(None, (other, movement.plan, movement.reason)))
        lines.append(
            f"  {movement.no:>5}  {_day(movement.at)}  {movement.kind:<5} {metres(change):>11} "
            f"{metres(left):>11}  {why}"
        )
    lost = [m for m in book.movements if m.kind == "lost" and m.plan in _plans(book, name)]
    lines += [
        f"  {m.no:>5}  {_day(m.at)}  lost  ({metres(m.length_um)} of plan {m.plan})  {m.reason}"
        for m in lost
    ]
    head = f"{name}, {each.piece.film}: {metres(each.left_um)} left"
    if each.piece.parent:
        head += f", cut off {each.piece.parent}"
    spoilt = spoilt_words(each)
    return "\n".join([head, *([f"  spoiled {spoilt}"] if spoilt else []), "", *lines])


def _plans(book: Book, piece: str) -> set[str | None]:
    return {m.plan for m in book.movements if m.kind == "run" and m.source == piece}


def piece_words(each: OnShelf) -> str:
    """A piece after something was booked."""
    spoilt = spoilt_words(each)
    lines = [
        f"{each.piece.id}, {each.piece.film}: {metres(each.left_um)} left, "
        f"{metres(each.free_um)} free" + (f"; spoiled {spoilt}" if spoilt else "")
    ]
    return "\n".join([*lines, *(f"  look   {words}" for words in over_reserved(each))])


def counted_words(each: OnShelf, more_um: int) -> str:
    """After a count: what it found more or less than the book said."""
    said = "as the book says"
    if more_um:
        said = f"{metres(abs(more_um))} {'more' if more_um > 0 else 'less'} than the book said"
    words = f"{piece_words(each)}\n  counted: {said}"
    if more_um and each.spoilt:
        words += (
            "\n  look   spoiled film is now kept clear wherever it may lie by old and new count; "
            "measure it and state it anew with nestplan stock mark"
        )
    return words


def ledger_json(book: Book, each: OnShelf) -> list[dict[str, Any]]:
    """Movements of a piece for programs; change_m: how much longer it became."""
    name = each.piece.id
    return [
        {
            "no": m.no,
            "at": m.at,
            "kind": m.kind,
            "change_m": change_um(m, name) / UM_PER_M,
            "other": m.target if m.source == name else m.source,
            "plan": m.plan,
            "reason": m.reason,
        }
        for m in book.movements
        if name in (m.source, m.target)
    ]


def reserved_words(pieces: Sequence[OnShelf], place: str) -> str:
    """After planning: what is reserved of which piece."""
    lines = []
    for each in pieces:
        own = [held for held in each.reserved if held.place == place]
        lines += [
            f"{each.piece.id}: {metres(held.length_um)} reserved for plan {held.plan}, "
            f"{metres(each.free_um)} free after it"
            for held in own
        ]
    return "\n".join(
        [*lines, "Once it is printed: the same command with --commit"] if lines else []
    )


def booked_words(booked: Booked) -> str:
    """After booking: what was used and what goes back on the shelf."""
    lines = []
    for used, each in zip(booked.used, booked.pieces, strict=True):
        before = f" already, on {_day(used.at)}: nothing is booked again" if booked.before else ""
        lines.append(
            f"{each.piece.id}: {metres(used.length_um)} booked for plan {booked.plan}{before}; "
            f"{metres(each.left_um)} left"
        )
        lines += [f"  look   {words}" for words in over_reserved(each)]
    return "\n".join(lines)


def history_words(found: Mapping[Stage, Correction], setup: str) -> str:
    """How far runs were off their estimates, stage by stage."""
    lines = [f"What runs took, times what was expected, on {setup}:", ""]
    for stage, each in found.items():
        if each.known:
            assert each.low is not None and each.high is not None
            words = (
                f"{each.factor:.3f}   the next within {each.low:.3f} to {each.high:.3f} "
                f"({100 * each.level:.0f} %), by {figures.count(each.jobs, 'run')}"
            )
        else:
            words = f"unknown by {figures.count(each.jobs, 'run')}: at least 3 are needed"
        aside = f"; {each.set_aside} far out set aside" if each.set_aside else ""
        lines.append(f"  {stage:<8} {words}{aside}")
    return "\n".join(lines)


def carried_words(each: Sequence[Carried]) -> list[str]:
    """What a planned run likely takes, a line a stage; nothing where no runs are known."""
    lines = []
    for one in each:
        likely, low, high, planned = (
            figures.film(amount) if one.stage == "film" else figures.duration(amount)
            for amount in (one.likely, one.low, one.high, one.planned)
        )
        lines.append(
            f"  likely {one.stage:<8} {likely}, {low} to {high} for {_share(one.by.level)}, by "
            f"{figures.count(one.by.jobs, 'run')}; {planned} planned"
        )
    return lines


def carried_json(each: Sequence[Carried]) -> dict[str, Any]:
    """The same for programs: film in mm, times in seconds."""
    return {
        one.stage: {
            "planned": round(one.planned, 3),
            "likely": round(one.likely, 3),
            "low": round(one.low, 3),
            "high": round(one.high, 3),
            "level": one.by.level,
            "runs": one.by.jobs,
        }
        for one in each
    }


def _share(level: float) -> str:
    return "nine runs of ten" if level == 0.9 else f"{100 * level:.0f} % of runs"


def piece_json(each: OnShelf) -> dict[str, Any]:
    """A piece for programs; lengths in metres, exact to the micrometre."""
    return {
        "id": each.piece.id,
        "film": each.piece.film,
        "width_mm": each.piece.width_um / UM_PER_MM,
        "left_m": each.left_um / UM_PER_M,
        "free_m": each.free_um / UM_PER_M,
        "cut_off": each.piece.parent,
        "spoiled": [
            {
                "number": s.no,
                "kind": s.kind,
                "from_m": s.from_um / UM_PER_M,
                "to_m": s.to_um / UM_PER_M,
                "note": s.note,
            }
            for s in each.spoilt
        ],
        "reserved": [
            {"plan": r.plan, "job": r.job, "length_m": r.length_um / UM_PER_M, "at": r.at}
            for r in each.reserved
        ],
    }


def booked_json(booked: Booked) -> dict[str, Any]:
    """What was booked, for programs."""
    return {
        "plan": booked.plan,
        "booked_before": booked.before,
        "used": [
            {"piece": each.source, "length_m": each.length_um / UM_PER_M, "at": each.at}
            for each in booked.used
        ],
        "pieces": [piece_json(each) for each in booked.pieces],
    }


def history_json(found: Mapping[Stage, Correction], setup: str) -> dict[str, Any]:
    """Corrections for programs."""
    return {
        "setup": setup,
        "stages": {
            stage: {
                "factor": each.factor,
                "low": each.low,
                "high": each.high,
                "level": each.level,
                "runs": each.jobs,
                "set_aside": each.set_aside,
            }
            for stage, each in found.items()
        },
    }


def _day(at: str) -> str:
    return at[:10]
