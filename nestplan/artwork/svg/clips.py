"""Clip paths: the areas they leave in sight, as far as plain shapes make them.

What is not plain (clips of clips, units of the box, text) is not guessed at: the caller
then takes the look of the drawing from a rendering.
"""

from dataclasses import dataclass

from nestplan.artwork.svg.expand import target_of
from nestplan.artwork.svg.parse import Element, is_svg, name_of
from nestplan.artwork.svg.path import Path
from nestplan.artwork.svg.shapes import SHAPES, path_of
from nestplan.artwork.svg.style import Style, computed, own
from nestplan.artwork.svg.units import length_px, shift, transform
from nestplan.geometry.polyline import Affine


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clip:
    """Only what lies in one of these paths is seen. pieces: (path in px, even-odd rule)."""

    pieces: tuple[tuple[Path, bool], ...]


class ClipReader:
    """Reads the clip paths of one file; the same clip in the same place is read once."""

    def __init__(self, ids: dict[str, Element], source: str) -> None:
        self.ids, self.source = ids, source
        self.known: dict[tuple[str, bytes], Clip | None] = {}

    def clip(self, link: str, matrix: Affine) -> Clip | None:
        """A clip path on px; None when its geometry is not simple enough to follow.

        link: the id of an element. raises: Unreadable, Fault.
        """
        key = link, matrix.tobytes()
        if key not in self.known:
            self.known[key] = self._read(self.ids[link], matrix)
        return self.known[key]

    def _read(self, clip: Element, matrix: Affine) -> Clip | None:
        """The shapes of a <clipPath>, in px."""
        given = own(clip)
        if (
            name_of(clip) != "clipPath"
            or given.get("clipPathUnits", "userSpaceOnUse") != "userSpaceOnUse"
            or given.get("clip-path", "none") != "none"
        ):
            return None
        matrix = matrix @ transform(given.get("transform", ""))
        pieces = []
        for child in clip:
            if not is_svg(child) or name_of(child) in ("title", "desc", "metadata"):
                continue
            found = self._piece(child, _style_in_place(clip), matrix)
            if found is None:
                return None
            pieces.extend(found)
        return Clip(pieces=tuple(pieces))

    def _piece(
        self, child: Element, style: Style, matrix: Affine
    ) -> list[tuple[Path, bool]] | None:
        """One child of a <clipPath>; a use of a plain shape counts as the shape."""
        given = own(child)
        style = computed(given, style)
        if given.get("display") == "none" or not style.visible:
            return []
        if given.get("clip-path", "none") != "none":
            return None
        matrix = matrix @ transform(given.get("transform", ""))
        if name_of(child) == "use":
            if any("%" in given.get(key, "") for key in ("x", "y")):
                return None
            moved = shift(length_px(given.get("x", "0"), 0), length_px(given.get("y", "0"), 0))
            target = target_of(child, self.ids, self.source)
            if name_of(target) not in SHAPES:
                return None
            return self._piece(target, style, matrix @ moved)
        if name_of(child) not in SHAPES or any("%" in text for text in given.values()):
            return None
        path = path_of(name_of(child), given, 0, 0)
        return [(tuple(run.mapped(matrix) for run in path), style.clip_rule == "evenodd")]


def _style_in_place(element: Element) -> Style:
    """The style of an element that is not drawn where it stands, such as a clip path."""
    style = Style()
    for one in [*reversed(list(element.iterancestors())), element]:
        style = computed(own(one), style)
    return style
