"""`use`, `symbol` and `switch` become plain groups, so that one shape is one element.

Only then can a cut line be taken out of the print where it is one, and left where the
same drawing is used a second time as art.
"""

from copy import deepcopy

from lxml import etree

from nestplan.artwork.svg.parse import (
    ELEMENTS_MOST,
    SVG,
    Element,
    href,
    is_svg,
    name_of,
    place,
)
from nestplan.artwork.svg.units import Unreadable, length_px, shift, transform, written
from nestplan.faults import Fault

NOT_DRAWN = {
    "defs", "symbol", "clipPath", "mask", "pattern", "marker", "linearGradient",
    "radialGradient", "filter", "metadata", "title", "desc", "style", "view",
}  # fmt: skip
NOT_PRINTED = {"script", "animate", "animateMotion", "animateTransform", "set"}
DEPTH_MOST = 200  # levels; the converter to PDF stops earlier, with a fault of its own


def expand(root: Element, source: str) -> None:
    """Resolve every switch and use that is drawn, in place; drop scripts and animation.

    raises: Fault for a use that leads nowhere, into itself, or into more than
    `ELEMENTS_MOST` elements.
    """
    for element in [e for e in root.iter() if is_svg(e) and name_of(e) in NOT_PRINTED]:
        _drop(element)
    _Expansion(root, source).children(root, 1, ())


def by_id(root: Element) -> dict[str, Element]:
    """Elements by id; of several with one id the first counts."""
    found: dict[str, Element] = {}
    for element in root.iter():
        if is_svg(element) and element.get("id"):
            found.setdefault(str(element.get("id")), element)
    return found


def target_of(element: Element, ids: dict[str, Element], source: str) -> Element:
    """The element that `element` refers to. raises: Fault when the file has none."""
    link = href(element) or "#"
    if link[1:] not in ids:
        raise Fault(
            what=f"<{name_of(element)}> refers to {link!r}, which the file does not have",
            where=place(source, element),
            do="draw the missing part, or delete the reference",
        )
    return ids[link[1:]]


class _Expansion:
    """One walk over the drawn elements; counts what it adds."""

    def __init__(self, root: Element, source: str) -> None:
        self.source = source
        self.ids = {name: deepcopy(element) for name, element in self._used(root).items()}
        self.elements = sum(1 for _ in root.iter())

    def _used(self, root: Element) -> dict[str, Element]:
        """What uses refer to, as it was before anything was resolved."""
        ids = by_id(root)
        wanted = {(href(e) or "#")[1:] for e in root.iter(f"{{{SVG}}}use")}
        return {name: ids[name] for name in wanted if name in ids}

    def children(self, parent: Element, depth: int, inside: tuple[str, ...]) -> None:
        """Resolve what is drawn under parent. inside: ids of the uses being resolved."""
        if depth > DEPTH_MOST:
            raise Fault(
                what=f"groups and uses nest more than {DEPTH_MOST} deep",
                where=place(self.source, parent),
                do="ungroup the drawing",
            )
        for element in [e for e in parent if is_svg(e) and name_of(e) not in NOT_DRAWN]:
            within = inside
            if name_of(element) == "use":
                within = (*inside, self._name(element, inside))
                element = self._resolve_use(element)
            elif name_of(element) == "switch":
                _resolve_switch(element)
            self.children(element, depth + 1, within)

    def _name(self, use: Element, inside: tuple[str, ...]) -> str:
        """The id a use refers to. raises: Fault when it is being resolved already."""
        name = (href(use) or "#")[1:]
        if name in inside:
            raise Fault(
                what=f"<use> of #{name} draws itself: the drawing would have no end",
                where=place(self.source, use),
                do="delete this <use>, or let it refer to another element",
            )
        return name

    def _resolve_use(self, use: Element) -> Element:
        """Put a group with a copy of what it refers to in the place of a use."""
        copy = deepcopy(target_of(use, self.ids, self.source))
        self.elements += sum(1 for _ in copy.iter())
        if self.elements > ELEMENTS_MOST:
            raise Fault(
                what=f"<use> makes more than {ELEMENTS_MOST} elements of the file's few",
                where=place(self.source, use),
                do="use fewer copies within copies",
            )
        copy.tail = None
        if name_of(copy) in ("symbol", "svg"):
            _as_viewport(copy, use)
        group = etree.Element(f"{{{SVG}}}g", nsmap=use.nsmap)
        for key, value in use.attrib.items():
            if key not in ("x", "y", "width", "height") and not str(key).endswith("href"):
                group.set(key, value)
        try:
            moved = shift(_plain_px(use, "x"), _plain_px(use, "y"))
            group.set("transform", written(transform(use.get("transform", "")) @ moved))
        except Unreadable as trouble:
            raise Fault(
                what=str(trouble), where=place(self.source, use), do="write it in px or mm"
            ) from None
        group.append(copy)
        group.tail = use.tail
        group.sourceline = use.sourceline
        parent = use.getparent()
        assert parent is not None, "a use that is drawn stands in something"
        parent.replace(use, group)
        return group


def _plain_px(use: Element, key: str) -> float:
    """A length of a use; the group in its place has no viewport to take a percentage of."""
    text = use.get(key, "0")
    if "%" in text:
        raise Unreadable(f"{key} is {text!r}: a percentage on <use> is not read")
    return length_px(text, 0)


def _as_viewport(copy: Element, use: Element) -> None:
    """A symbol is drawn as an inner svg; the use says how large."""
    if name_of(copy) == "symbol":
        copy.tag = f"{{{SVG}}}svg"
    for key in ("width", "height"):
        if use.get(key, "auto") != "auto":
            copy.set(key, str(use.get(key)))
        elif copy.get(key) is None:
            copy.set(key, "100%")


def _resolve_switch(switch: Element) -> None:
    """Keep the first child whose conditions hold; the group then draws it (SVG 1.1, 5.8)."""
    children = [e for e in switch if is_svg(e)]
    chosen = next((e for e in children if _holds(e)), None)
    for element in children:
        if element is not chosen:
            switch.remove(element)
    switch.tag = f"{{{SVG}}}g"


def _holds(element: Element) -> bool:
    """Whether a child of a switch may be drawn: it needs no extension and no other language."""
    if element.get("requiredExtensions") is not None or name_of(element) == "foreignObject":
        return False
    languages = element.get("systemLanguage")
    return languages is None or any(
        word.strip().lower().split("-")[0] == "en" for word in languages.split(",")
    )


def _drop(element: Element) -> None:
    parent = element.getparent()
    if parent is not None:
        element.tail = None
        parent.remove(element)
