"""What is said of each setup, a row a question: the same on the page and at the terminal."""

from collections.abc import Callable

from nestplan import figures
from nestplan.compare.comparison import Comparison, Crossing, Overtake
from nestplan.compare.on_setup import OnSetup
from nestplan.figures import count

NAMES = {
    "per_decal": "cost a decal",
    "one_run_s": "time for one run",
    "first_s": "time to the first decal",
}


def rows(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """A name, then a figure a setup; what is best is not judged here."""
    money = comparison.currency
    said: list[tuple[str, Callable[[OnSetup], str]]] = [
        ("machines", lambda one: ", ".join(one.machines)),
        ("first decal after", lambda one: str(figures.duration(one.first_s))),
        ("one run, door to door", _run_words),
        ("of that hands on", lambda one: str(figures.duration(one.hands_s))),
        (
            f"runs in {figures.short(comparison.shift_h)} h",
            lambda one: str(one.runs_per_shift),
        ),
        ("a rush run is done after", lambda one: str(figures.duration(one.rush_s))),
        ("and puts off the others by", lambda one: str(figures.duration(one.rush_delay_s))),
        (
            "film",
            lambda one: f"{figures.film(one.film_mm)}, {figures.money(one.film, money)}",
        ),
        ("ink", lambda one: str(figures.money(one.ink, money))),
        ("labour", lambda one: str(figures.money(one.labour, money))),
        ("machines' hours", lambda one: str(figures.money(one.machine, money))),
        ("in all", lambda one: str(figures.money(one.total, money))),
        ("a decal", lambda one: str(figures.money(one.per_decal, money, 4))),
        (
            "floor",
            lambda one: "not said" if one.floor_m2 is None else f"{figures.short(one.floor_m2)} m²",
        ),
    ]
    return [(name, [of(one) for one in comparison.here]) for name, of in said]


def _run_words(one: OnSetup) -> str:
    if one.spread_s is None:
        return str(figures.duration(one.one_run_s))
    low, high = max(one.one_run_s - one.spread_s, 0.0), one.one_run_s + one.spread_s
    return (
        f"{figures.duration(one.one_run_s)} (90 %: {figures.duration(low)} to "
        f"{figures.duration(high)})"
    )


def crossing_words(crossing: Crossing) -> str:
    """Where the better setup changes, in a sentence."""
    between = ""
    if crossing.low is not None and crossing.high is not None:
        low, high = sorted((crossing.low, crossing.high))
        between = f", 90 %: {low} to {high}"
    return (
        f"{NAMES[crossing.measure]}: {crossing.before} is better up to about "
        f"{count(crossing.copies, 'copy', 'copies')}, then {crossing.after} (planned at "
        f"{crossing.from_copies} and {crossing.to_copies}{between})"
    )


def overtake_words(overtake: Overtake) -> str:
    """From how many equal runs on another setup is quicker, in a sentence."""
    return (
        f"one after the other: with {overtake.runs} such runs or more, {overtake.after} is done "
        f"with all of them before {overtake.before}"
    )


def no_crossing_words(comparison: Comparison) -> list[str]:
    """Measures whose best setup is the same at every planned quantity."""
    if len(comparison.by_copies) < 2:
        return []
    changed = {crossing.measure for crossing in comparison.crossings}
    few, many = comparison.by_copies[0][0].copies, comparison.by_copies[-1][0].copies
    said = []
    for measure, name in NAMES.items():
        best = min(comparison.here, key=lambda one: getattr(one, measure)).setup
        if measure not in changed and len(comparison.here) > 1:
            said.append(f"{name}: {best} is better from {few} to {many} copies")
    return said
