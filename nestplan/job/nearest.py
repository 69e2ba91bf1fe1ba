"""The known name nearest to one that is not known."""

from collections.abc import Iterable
from difflib import get_close_matches

LENGTH_MOST = 100  # characters looked at; no name is longer
LIKE = 0.55  # of 1; below this a suggestion is a guess
UNITS = {"mm", "m", "m2", "ml", "s", "s2", "h", "k", "ppm", "percent", "dpi", "deg"}


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name most like the word, upper and lower case alike; None when none is like it."""
    whole = {name[:LENGTH_MOST].casefold(): name for name in known}
    names = {_without_units(folded): name for folded, name in whole.items()} | whole
    sought = word[:LENGTH_MOST].casefold()
    close = get_close_matches(sought, list(names), n=1, cutoff=LIKE)
    if close:
        return names[close[0]]
    holding = [name for folded, name in names.items() if len(sought) > 2 and sought in folded]
    return holding[0] if holding else None


def _without_units(name: str) -> str:
    """The name as people remember it: acceleration, not acceleration_mm_s2."""
    parts = name.split("_")
    while len(parts) > 1 and parts[-1] in UNITS:
        parts.pop()
    return "_".join(parts)
