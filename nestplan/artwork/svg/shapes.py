"""From an element's attributes to its path, in its own user units (SVG 1.1, chapters 8 and 9)."""

from nestplan.artwork.svg import path
from nestplan.artwork.svg.path import Path
from nestplan.artwork.svg.units import Unreadable, diagonal_px, length_px, numbers

SHAPES = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}


def path_of(name: str, given: dict[str, str], width: float, height: float) -> Path:
    """The path of a basic shape. raises: Unreadable.

    given: its own properties. width, height: of the viewport, what percentages are taken of.
    """

    def across(key: str, default: str = "0") -> float:
        return length_px(given.get(key, default), width)

    def down(key: str, default: str = "0") -> float:
        return length_px(given.get(key, default), height)

    match name:
        case "path":
            return path.path_data(given.get("d", ""))
        case "rect":
            return _rect(given, width, height)
        case "circle":
            r = _size(length_px(given.get("r", "0"), diagonal_px(width, height)), "r")
            return path.ellipse(across("cx"), down("cy"), r, r) if r > 0 else ()
        case "ellipse":
            rx, ry = _size(across("rx"), "rx"), _size(down("ry"), "ry")
            return path.ellipse(across("cx"), down("cy"), rx, ry) if min(rx, ry) > 0 else ()
        case "line":
            return path.polyline([across("x1"), down("y1"), across("x2"), down("y2")])
        case "polyline":
            return path.polyline(numbers(given.get("points", "")))
        case "polygon":
            return path.polygon(numbers(given.get("points", "")))
    raise AssertionError(f"{name} is no basic shape")


def _rect(given: dict[str, str], width: float, height: float) -> Path:
    """A rectangle; one radius that is not given is as long as the other."""
    wide = _size(length_px(given.get("width", "0"), width), "width")
    high = _size(length_px(given.get("height", "0"), height), "height")
    if wide == 0 or high == 0:
        return ()
    radii = {
        key: _size(length_px(given[key], whole), key)
        for key, whole in (("rx", width), ("ry", height))
        if given.get(key, "auto") != "auto"
    }
    rx, ry = radii.get("rx", radii.get("ry", 0.0)), radii.get("ry", radii.get("rx", 0.0))
    x, y = length_px(given.get("x", "0"), width), length_px(given.get("y", "0"), height)
    return path.rounded(x, y, wide, high, rx, ry)


def _size(found: float, key: str) -> float:
    if found < 0:
        raise Unreadable(f"{key} is {found:g}, less than nothing")
    return found
