"""What SVG writes as text and we need as numbers: lengths, number lists, view boxes, transforms.

Lengths become px, of which CSS fixes 96 to an inch (CSS Values and Units, absolute lengths).
Affine maps are (3, 3) arrays; `a @ b` maps by b first, as nested elements do.
"""

import re
from math import cos, hypot, radians, sin, tan

import numpy as np

from nestplan.geometry.polyline import Affine

MM_PER_PX = 25.4 / 96
PX = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / 25.4,
    "q": 96 / 101.6,
    "pt": 96 / 72,
    "pc": 16.0,
}
NUMBER_MOST = 1e9  # no drawing is a million km wide
NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_LENGTH = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z]*|%)\s*")
_LIST = re.compile(rf"(?:[\s,]*{NUMBER})*[\s,]*")
_FUNCTION = re.compile(r"[\s,]*([a-zA-Z]+)\s*\(([^()]*)\)")
_ANGLE_DEG = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / np.pi, "turn": 360.0}


class Unreadable(Exception):
    """A piece of text that is not what SVG allows here; the caller knows the element."""


def length_px(text: str, whole_px: float) -> float:
    """A length in px; a percentage is taken of whole_px. raises: Unreadable."""
    found = _LENGTH.fullmatch(text)
    if found is None:
        raise Unreadable(f"{text!r} is not a length")
    number, unit = float(found[1]), found[2].lower()
    if unit == "%":
        return finite(number * whole_px / 100, text)
    if unit not in PX:
        raise Unreadable(f"the length {text!r} has a unit that depends on a font or a screen")
    return finite(number * PX[unit], text)


def numbers(text: str) -> list[float]:
    """A list of numbers with blanks and commas between. raises: Unreadable."""
    if _LIST.fullmatch(text) is None:
        raise Unreadable(f"{shown(text)} is not a list of numbers")
    return [finite(float(number), number) for number in re.findall(NUMBER, text)]


def view_box(text: str) -> tuple[float, float, float, float]:
    """(x, y, width, height) in user units. raises: Unreadable."""
    found = numbers(text)
    if len(found) != 4 or found[2] <= 0 or found[3] <= 0:
        raise Unreadable(f"the viewBox {text!r} is not four numbers, the last two above 0")
    x, y, width, height = found
    return x, y, width, height


def fit_view_box(
    box: tuple[float, float, float, float], width_px: float, height_px: float, aspect: str
) -> Affine:
    """The map from view box units to a viewport at the origin (SVG 1.1, 7.7 and 7.8).

    aspect: preserveAspectRatio as written, "" for the default xMidYMid meet.
    """
    x, y, width, height = box
    scale_x, scale_y = width_px / width, height_px / height
    words = aspect.replace("defer", "").split() or ["xMidYMid"]
    align = words[0]
    if align == "none":
        return scaling(scale_x, scale_y) @ shift(-x, -y)
    if re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", align) is None:
        raise Unreadable(f"preserveAspectRatio {aspect!r} is not known")
    scale = max(scale_x, scale_y) if words[1:] == ["slice"] else min(scale_x, scale_y)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    left = share[align[1:4]] * (width_px - scale * width)
    top = share[align[5:8]] * (height_px - scale * height)
    return shift(left, top) @ scaling(scale, scale) @ shift(-x, -y)


def shift(x: float, y: float) -> Affine:
    """Move by (x, y)."""
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def scaling(x: float, y: float) -> Affine:
    """Scale about the origin."""
    return np.array([[x, 0.0, 0.0], [0.0, y, 0.0], [0.0, 0.0, 1.0]])


def transform(text: str) -> Affine:
    """The map a transform attribute or property writes. raises: Unreadable."""
    if text.strip() in ("", "none"):
        return np.eye(3)
    whole, at = np.eye(3), 0
    while found := _FUNCTION.match(text, at):
        whole = product(whole, _one(found[1], _arguments(found[2]), text))
        at = found.end()
    if text[at:].strip(" \t\r\n,"):
        raise Unreadable(f"the transform {shown(text)} makes no sense from {shown(text[at:])}")
    return whole


def product(outer: Affine, inner: Affine) -> Affine:
    """The map that does inner, then outer. raises: Unreadable when it leads beyond all numbers."""
    with np.errstate(over="ignore", invalid="ignore"):
        both = outer @ inner
    if not (np.abs(both) < NUMBER_MOST**2).all():
        raise Unreadable("transforms within transforms lead beyond all numbers")
    return both


def written(affine: Affine) -> str:
    """The transform attribute of a map, exact to the last bit."""
    (a, c, e), (b, d, f), _ = affine.tolist()
    return f"matrix({a!r} {b!r} {c!r} {d!r} {e!r} {f!r})"


def largest_scale(affine: Affine) -> float:
    """How much the map stretches at most; no unit."""
    (a, c, _), (b, d, _), _ = affine.tolist()
    # the larger singular value, of every piece: a decomposition would take twenty times as long
    return (hypot(a + d, b - c) + hypot(a - d, b + c)) / 2


def shown(text: str) -> str:
    """Text from a file, short enough for a message."""
    return repr(text if len(text) <= 40 else text[:40] + "…")


def finite(number: float, text: str) -> float:
    """The number, unless it is absurd. raises: Unreadable."""
    if not abs(number) <= NUMBER_MOST:
        raise Unreadable(f"{shown(text)} is too large a number")
    return number


def _arguments(text: str) -> list[float]:
    """Numbers of a transform function, CSS units taken off (px and degrees)."""
    found = []
    for word in re.split(r"[\s,]+", text.strip()):
        parts = re.fullmatch(rf"({NUMBER})([a-z]*)", word)
        if parts is None:
            found.extend(numbers(word))  # 1-2 is two numbers
        elif parts[2] in _ANGLE_DEG:
            found.append(finite(float(parts[1]), word) * _ANGLE_DEG[parts[2]])
        else:
            found.append(length_px(word, 0))
    return found


def _one(name: str, given: list[float], text: str) -> Affine:
    """One function of a transform list."""
    match name, given:
        case "matrix", [a, b, c, d, e, f]:
            return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
        case "translate", [x] | [x, _] if len(given) <= 2:
            return shift(x, given[1] if len(given) == 2 else 0.0)
        case "translateX", [x]:
            return shift(x, 0.0)
        case "translateY", [y]:
            return shift(0.0, y)
        case "scale", [x] | [x, _]:
            return scaling(x, given[1] if len(given) == 2 else x)
        case "scaleX", [x]:
            return scaling(x, 1.0)
        case "scaleY", [y]:
            return scaling(1.0, y)
        case "rotate", [angle]:
            return _rotation(angle)
        case "rotate", [angle, x, y]:
            return shift(x, y) @ _rotation(angle) @ shift(-x, -y)
        case "skewX", [angle]:
            return np.array([[1.0, tan(radians(angle)), 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        case "skewY", [angle]:
            return np.array([[1.0, 0.0, 0.0], [tan(radians(angle)), 1.0, 0.0], [0.0, 0.0, 1.0]])
    raise Unreadable(f"the transform {shown(text)} has {len(given)} numbers in {name}()")


def _rotation(angle_deg: float) -> Affine:
    """Turn from x towards y; exact at quarter turns."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    if angle_deg % 90 == 0:
        c, s = float(round(c)), float(round(s))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def diagonal_px(width_px: float, height_px: float) -> float:
    """What percentages of lengths that are neither across nor down are taken of."""
    return hypot(width_px, height_px) / 2**0.5
