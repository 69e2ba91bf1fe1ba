"""Layers of a PDF: optional content groups, their names, and which are off.

Source: ISO 32000-1, 8.11.2 (groups and memberships) and 8.11.4.3 (the default state).
"""

from collections.abc import Sequence

import pikepdf
from pikepdf import Name, Pdf

from nestplan.artwork.pdf.resources import named


class Layers:
    """The optional content of a document, in its default state."""

    def __init__(self, pdf: Pdf) -> None:
        properties = pdf.Root.get("/OCProperties", pikepdf.Dictionary())
        default = properties.get("/D", pikepdf.Dictionary())
        all_off = default.get("/BaseState") == Name.OFF
        every = properties.get("/OCGs", ())
        self.all_names = tuple(str(group.get("/Name", "")) for group in every)
        self._off = {group.objgen for group in (every if all_off else default.get("/OFF", ()))}
        if all_off:
            self._off -= {group.objgen for group in default.get("/ON", ())}

    def group(
        self, given: Sequence[pikepdf.Object], resources: pikepdf.Object
    ) -> pikepdf.Object | None:
        """The group that a marked part belongs to; None for parts marked for other ends."""
        if len(given) != 2 or given[0] != Name.OC:
            return None
        if isinstance(given[1], Name):
            return named(resources, "/Properties", given[1])
        return given[1]

    def names(self, group: pikepdf.Object) -> tuple[str, ...]:
        """The name of a group, or of all groups of a membership."""
        return tuple(str(each.get("/Name", "")) for each in _members(group))

    def is_off(self, group: pikepdf.Object) -> bool:
        """Whether a viewer hides it as the file opens."""
        off = [each.objgen in self._off for each in _members(group)]
        if not off:
            return False
        match str(group.get("/P", "/AnyOn")):
            case "/AllOn":
                return any(off)
            case "/AnyOff":
                return not any(off)
            case "/AllOff":
                return not all(off)
        return all(off)


def _members(group: pikepdf.Object) -> list[pikepdf.Object]:
    if group.get("/Type") != Name.OCMD:
        return [group]
    inside = group.get("/OCGs")
    if inside is None:
        return []
    return list(inside) if isinstance(inside, pikepdf.Array) else [inside]
