"""The contour key of a job, understood: which line of the art is cut."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["layer", "colour", "spot", "page", "trim", "outline", "offset"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Where the contour comes from. name: of layer or spot; rgb: of a stroke; offset_mm: out."""

    text: str
    kind: Kind
    name: str = ""
    rgb: tuple[int, int, int] = (0, 0, 0)
    offset_mm: float = 0.0

    @property
    def is_drawn(self) -> bool:
        """Whether the cut line itself is drawn in the art, and must not be printed."""
        return self.kind in ("layer", "colour", "spot")


def rule_of(text: str) -> Rule:
    """The rule that a job's contour key writes; the job room has checked its form."""
    word, _, rest = text.partition(":")
    match word:
        case "layer":
            return Rule(text=text, kind="layer", name=rest.strip())
        case "spot":
            return Rule(text=text, kind="spot", name=rest.strip())
        case "trim":
            return Rule(text=text, kind="trim")
        case "colour":
            red, green, blue = bytes.fromhex(rest.removeprefix("#"))
            return Rule(text=text, kind="colour", rgb=(red, green, blue))
        case "page":
            return Rule(text=text, kind="page")
        case "outline":
            return Rule(text=text, kind="outline")
        case "offset":
            return Rule(text=text, kind="offset", offset_mm=float(rest))
    raise AssertionError(f"the job room lets no contour {text!r} through")
