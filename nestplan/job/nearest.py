"""The known name nearest to one that is not known."""

from collections.abc import Iterable
from difflib import get_close_matches

LENGTH_MOST = 100  # characters looked at; no name is longer
LIKE = 0.55  # of 1; below this a suggestion is a guess


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name most like the word, upper and lower case alike; None when none is like it."""
    names = {name[:LENGTH_MOST].casefold(): name for name in known}
    sought = word[:LENGTH_MOST].casefold()
    close = get_close_matches(sought, list(names), n=1, cutoff=LIKE)
    if close:
        return names[close[0]]
    holding = [name for folded, name in names.items() if len(sought) > 2 and sought in folded]
    return holding[0] if holding else None
