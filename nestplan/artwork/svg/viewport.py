"""Viewports: how large a page or an inner svg is, and the map from its units outwards."""

import numpy as np

from nestplan.artwork.svg.path import Path, rectangle
from nestplan.artwork.svg.units import (
    Unreadable,
    fit_view_box,
    length_px,
    shift,
    view_box,
)
from nestplan.geometry.polyline import Affine


def page_of(given: dict[str, str]) -> tuple[float, float, Affine, tuple[float, float]]:
    """Page size in px, the map from user units to it, and the size in user units.

    given: the root's own properties. raises: Unreadable.
    """
    box = view_box(given["viewBox"]) if "viewBox" in given else None
    sizes: list[float | None] = []
    for k, key in ((2, "width"), (3, "height")):
        text = given.get(key, "auto")
        if text == "auto" or (text.endswith("%") and box is None):
            sizes.append(None)
        else:
            sizes.append(length_px(text, box[k] if box else 0))
    width, height = sizes
    if box:
        if width is None and height is None:
            width, height = box[2], box[3]
        width = width if width is not None else (height or 0) * box[2] / box[3]
        height = height if height is not None else width * box[3] / box[2]
    if width is None or height is None:
        raise Unreadable("the page has no size: neither width and height nor a viewBox")
    if width <= 0 or height <= 0:
        raise Unreadable(f"the page is {width:g} × {height:g} px")
    if box is None:
        return width, height, np.eye(3), (width, height)
    fitted = fit_view_box(box, width, height, given.get("preserveAspectRatio", ""))
    return width, height, fitted, (box[2], box[3])


def inner_viewport(
    given: dict[str, str], width: float, height: float
) -> tuple[Path, Affine, tuple[float, float]]:
    """Frame of an inner svg, the map from its units to those outside, and its size in its own.

    given: its own properties. width, height: of the viewport it stands in. raises: Unreadable.
    """
    wide, high = (
        length_px(_or_whole(given, key), whole)
        for key, whole in (("width", width), ("height", height))
    )
    x, y = length_px(given.get("x", "0"), width), length_px(given.get("y", "0"), height)
    frame = rectangle(x, y, wide, high)
    if "viewBox" not in given or wide <= 0 or high <= 0:
        return frame, shift(x, y), (wide, high)
    box = view_box(given["viewBox"])
    fitted = fit_view_box(box, wide, high, given.get("preserveAspectRatio", ""))
    return frame, shift(x, y) @ fitted, box[2:]


def _or_whole(given: dict[str, str], key: str) -> str:
    """A side of an inner svg; as large as what it stands in when not given."""
    text = given.get(key, "auto")
    return "100%" if text == "auto" else text
