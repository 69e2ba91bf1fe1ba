"""Colours in the words of CSS Color 4, written so that every reader understands them alike."""

import re

from tinycss2.color3 import RGBA
from tinycss2.color3 import parse_color as parse_plain
from tinycss2.color4 import Color
from tinycss2.color4 import parse_color as parse_wide

from nestplan.artwork.svg.parse import url_targets
from nestplan.artwork.svg.units import Unreadable

COLOURED = ("color", "fill", "flood-color", "lighting-color", "stop-color", "stroke")
_COMPUTED = re.compile(r"\b(var|calc|env)\s*\(", re.IGNORECASE)
_KNOWN_TO_ALL = re.compile(r"#[0-9a-f]{3}([0-9a-f]{3})?$|[a-z]+$", re.IGNORECASE)


def in_plain_words(text: str) -> str:
    """The same paint as #rrggbb or rgba(); what is no colour stays as it is.

    source: W3C, CSS Color Module Level 4. raises: Unreadable for colours beyond sRGB.
    """
    if url_targets(text) or "icc-color" in text or _COMPUTED.search(text):
        return text  # what CSS computes is refused by its own name
    plain = parse_plain(text)
    if isinstance(plain, RGBA) and _KNOWN_TO_ALL.match(text):
        return text
    found = plain if isinstance(plain, RGBA) else _wide(text)
    if found is None:
        return text
    red, green, blue = (round(255 * min(1.0, max(0.0, part))) for part in found[:3])
    if found[3] >= 1:
        return f"#{red:02x}{green:02x}{blue:02x}"
    return f"rgba({red},{green},{blue},{max(0.0, found[3]):g})"


def _wide(text: str) -> tuple[float, float, float, float] | None:
    found = parse_wide(text)
    if isinstance(found, Color):
        try:
            red, green, blue = found.to("srgb").coordinates
        except NotImplementedError:
            raise Unreadable(f"the colour {text!r} is not one of sRGB") from None
        return float(red or 0), float(green or 0), float(blue or 0), float(found.alpha)
    if found is None and "(" in text and not text.lower().startswith("url"):
        raise Unreadable(f"the colour {text!r} is not understood")
    return None
