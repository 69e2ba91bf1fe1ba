"""How lengths, times, money and shares are written for people; nothing else formats.

Every function returns a `Figure`, so that a table can set figures in one column and
units in the next, and a sentence can take both with `str`. Files for machines
(summary, SVG) never use this module.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from itertools import groupby
from math import ceil, floor, log10
from typing import NamedTuple

PROVEN_MM = 1e-3  # a nest this near its bound is the shortest there is; no tape can tell
SAME_STEP = 1e-6  # of the last decimal shown: what floats lose must not move a figure


class Figure(NamedTuple):
    """A number as it is read, and its unit."""

    figure: str
    unit: str

    def __str__(self) -> str:
        return f"{self.figure} {self.unit}"


def fixed(value: float, decimals: int = 1) -> str:
    """The value with so many decimals; never a minus before nothing but zeros."""
    return f"{value:z.{decimals}f}"


def short(value: float, decimals: int = 2) -> str:
    """As many decimals as the value has, at most `decimals`: what a person typed comes back."""
    text = fixed(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def length(mm: float, decimals: int = 1) -> Figure:
    """1498.6 mm."""
    return Figure(fixed(mm, decimals), "mm")


def film(mm: float) -> Figure:
    """Film as a shop counts it, 1.64 m: rounded up, for a roll that is short by a hair is short."""
    return Figure(fixed(ceil(mm / 10 - SAME_STEP) / 100, 2), "m")


def path(mm: float) -> Figure:
    """The way of a knife, 99.8 m."""
    return Figure(fixed(mm / 1000, 1), "m")


def area(mm2: float) -> Figure:
    """2.24 m²."""
    return Figure(fixed(mm2 / 1e6, 2), "m²")


def percent(value: float, decimals: int = 1) -> Figure:
    """73.9 %."""
    return Figure(fixed(value, decimals), "%")


def chance(share: float) -> str:
    """3.4 %, 1 in 2 500: a share of all runs, in the form in which it is felt."""
    if share >= 0.0095:
        return str(percent(100 * share)) if share < 0.9995 else "over 99.9 %"
    if share < 1e-6:
        return "less than 1 in 1 000 000"
    runs = 1 / share
    step = 10 ** (floor(log10(runs)) - 1)
    return f"1 in {floor(runs / step) * step:,}".replace(",", " ")


def mass(grams: float) -> Figure:
    """17.1 kg."""
    return Figure(fixed(grams / 1000, 1), "kg")


def money(amount: Decimal, currency: str, places: int = 2) -> Figure:
    """63.36 EUR; exact, halves away from zero."""
    step = Decimal(1).scaleb(-places)
    return Figure(f"{amount.quantize(step, rounding=ROUND_HALF_UP):f}", currency)


def duration(seconds: float) -> Figure:
    """42 s, 9:20 min, 1:07 h: each with its own unit, for 9:20 alone could be either."""
    whole = floor(seconds + 0.5)
    if whole < 60:
        return Figure(str(whole), "s")
    if whole < 3600:
        return Figure(f"{whole // 60}:{whole % 60:02d}", "min")
    minutes = floor(seconds / 60 + 0.5)
    return Figure(f"{minutes // 60}:{minutes % 60:02d}", "h")


def duration_full(seconds: float) -> Figure:
    """42 s, 9:20 min, 2:15:56 h: to the second, where two times are told apart by seconds."""
    whole = floor(seconds + 0.5)
    if whole < 3600:
        return duration(seconds)
    return Figure(f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}", "h")


def scale(denominator: float) -> str:
    """1:20."""
    return f"1:{short(denominator)}"


def count(number: int, one: str, many: str | None = None) -> str:
    """1 copy, 2 copies; the plural takes an s where none is given."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def bound_words(length_mm: float, bound_mm: float, *, narrow: bool = False) -> str:
    """How far a nest is from the best possible, in words.

    The bound is rounded down and the gap up: what is printed stays true. narrow: the print was to
    be narrower than the film allows, and the bound is for that width.
    """
    if length_mm - bound_mm <= PROVEN_MM:
        return "proven shortest"
    least = floor(bound_mm * 10 + SAME_STEP) / 10
    layout = "no layout of this width" if narrow else "no layout"
    words = f"{layout} is shorter than {length(least)}"
    if bound_mm <= 0:
        return words
    gap = ceil(1000 * (length_mm - bound_mm) / bound_mm - SAME_STEP) / 10
    return f"{words}: at most {percent(gap)} too long"


def travel_words(travel_mm: float, bound_mm: float) -> str:
    """The way with the knife up, and what it takes at least, rounded down: it stays true."""
    way = f"{path(travel_mm)} between them"
    if bound_mm <= 0:
        return way
    least = Figure(fixed(floor(bound_mm / 100 + SAME_STEP) / 10, 1), "m")
    return f"{way}, no order takes less than {least}"


def ranges(numbers: Iterable[int]) -> str:
    """Whole numbers, those in a row as one: 1 to 4, 7, 9 to 12."""
    said = []
    for _, run in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        each = [number for _, number in run]
        said.append(str(each[0]) if len(each) == 1 else f"{each[0]} to {each[-1]}")
    return ", ".join(said)
