"""The contour key of a job, understood: which line of the art is cut, or which is made round it."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "layer",
    "colour",
    "spot",
    "page",
    "trim",
    "outline",
    "offset",
    "rectangle",
    "rounded",
    "circle",
    "hull",
]
ROUND = ("rectangle", "rounded", "circle", "hull")  # forms laid round the whole art


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Where the contour comes from. name: of layer or spot; rgb: of a stroke.

    offset_mm: how far a made contour lies outside the art. corner_mm: radius of `rounded`.
    """

    text: str
    kind: Kind
    name: str = ""
    rgb: tuple[int, int, int] = (0, 0, 0)
    offset_mm: float = 0.0
    corner_mm: float = 0.0

    @property
    def is_drawn(self) -> bool:
        """Whether the cut line itself is drawn in the art, and must not be printed."""
        return self.kind in ("layer", "colour", "spot")

    @property
    def is_made(self) -> bool:
        """Whether the contour is made from the edge of what is painted."""
        return self.kind in ("outline", "offset", *ROUND)


def rule_of(text: str) -> Rule:
    """The rule that a contour or backing key writes; the job room has checked its form."""
    word, _, rest = text.partition(":")
    match word:
        case "layer":
            return Rule(text=text, kind="layer", name=rest.strip())
        case "spot":
            return Rule(text=text, kind="spot", name=rest.strip())
        case "colour":
            red, green, blue = bytes.fromhex(rest.removeprefix("#"))
            return Rule(text=text, kind="colour", rgb=(red, green, blue))
        case "page" | "trim" | "outline":
            return Rule(text=text, kind=word)
        case "offset" | "rectangle" | "circle" | "hull":
            return Rule(text=text, kind=word, offset_mm=float(rest))
        case "rounded":
            away, corner = rest.split(",")
            return Rule(text=text, kind=word, offset_mm=float(away), corner_mm=float(corner))
    raise AssertionError(f"the job room lets no contour {text!r} through")
