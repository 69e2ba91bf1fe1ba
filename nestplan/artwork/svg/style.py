"""The cascade: style sheets are written into the elements, then read with inheritance.

Once `inline_sheets` has run there are no style sheets left, so the geometry we read and
the converter that makes the picture cannot understand a selector differently.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cssselect2
import tinycss2
from tinycss2.color3 import RGBA, parse_color

from nestplan.artwork.svg.colours import COLOURED, in_plain_words
from nestplan.artwork.svg.parse import SVG, Element, is_svg, place, url_targets
from nestplan.artwork.svg.selectors import Work, each_selector, is_long, work_of
from nestplan.artwork.svg.units import (
    Unreadable,
    length_px,
    product,
    shift,
    transform,
    written,
)
from nestplan.faults import Fault, Note, raise_all

GEOMETRY = {"x", "y", "cx", "cy", "r", "rx", "ry", "width", "height", "transform"}
UNREAD = {"d", "offset-path", "rotate", "scale", "translate"}  # what would move or draw a shape
PIECE_MOST = 60  # characters of what is not understood that a note repeats
_COMPUTED = re.compile(r"\b(?:var|calc|env|min|max)\s*\(", re.IGNORECASE)

Rgb = tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """What fills or strokes: a colour, or a gradient or pattern of the file."""

    rgb: Rgb | None = None
    server: str | None = None  # id of the gradient or pattern
    seen: bool = True  # False: wholly transparent


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """The computed properties that decide where paint falls. Lengths in user units."""

    fill: Paint | None = Paint(rgb=(0, 0, 0))
    fill_opacity: float = 1.0
    fill_rule: str = "nonzero"
    stroke: Paint | None = None
    stroke_opacity: float = 1.0
    stroke_width: float = 1.0
    line_join: str = "miter"
    line_cap: str = "butt"
    miter_limit: float = 4.0
    dashes: str = "none"
    clip_rule: str = "nonzero"
    visible: bool = True
    color: Rgb = (0, 0, 0)

    @property
    def fills(self) -> bool:
        """Whether the inside is painted."""
        return self.fill is not None and self.fill.seen and self.fill_opacity > 0

    @property
    def strokes(self) -> bool:
        """Whether the line is painted."""
        return (
            self.stroke is not None
            and self.stroke.seen
            and self.stroke_opacity > 0
            and self.stroke_width > 0
        )


def inline_sheets(root: Element, source: str) -> list[Note]:
    """Write every style sheet into the elements it selects, and take the sheets out.

    Afterwards an element's `style` holds what wins for it, geometry properties stand as
    attributes, and transforms are matrices. raises: Fault or Faults.
    """
    matcher, important = cssselect2.Matcher(), cssselect2.Matcher()
    notes, work = [], work_of(root)
    for sheet in list(root.iter(f"{{{SVG}}}style")):
        media = sheet.get("media", "all").strip().lower()
        if media not in ("", "all", "screen"):
            notes.append(_ignored(f'media="{media}"', place(source, sheet)))
        text = "".join(sheet.itertext()) if media in ("", "all", "screen") else ""
        for rule in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
            notes += _add_rule(rule, matcher, important, work, place(source, sheet))
        parent = sheet.getparent()
        assert parent is not None, "the root is <svg>"
        sheet.tail = None
        parent.remove(sheet)
    faults: list[Fault] = []
    for wrapped in cssselect2.ElementWrapper.from_xml_root(root).iter_subtree():
        element = wrapped.etree_element
        if is_svg(element):
            faults += _write_winners(
                element, matcher.match(wrapped), important.match(wrapped), source
            )
    raise_all(faults)
    return notes


def own(element: Element) -> dict[str, str]:
    """The element's own properties: attributes, and over them its style; no `inherit`."""
    found = {str(key): str(value).strip() for key, value in element.attrib.items()}
    found.update((d.lower_name, d.text) for d in declarations(element.get("style", "")))
    return {name: text for name, text in found.items() if text != "inherit"}


def computed(given: dict[str, str], parent: Style) -> Style:
    """The style of an element with these properties of its own. raises: Unreadable."""
    if _STYLED.isdisjoint(given):
        return parent
    color = _rgb(given.get("color", "")) or parent.color
    style = replace(parent, color=color)
    changes: dict[str, object] = {}
    for key, name in (("fill", "fill"), ("stroke", "stroke")):
        if key in given:
            changes[name] = _paint(given[key], color, getattr(parent, name))
    for key, name in (("fill-opacity", "fill_opacity"), ("stroke-opacity", "stroke_opacity")):
        if key in given:
            changes[name] = share(given[key])
    for key, name in _WORDS.items():
        if key in given:
            changes[name] = given[key]
    if "stroke-width" in given:
        changes["stroke_width"] = length_px(given["stroke-width"], 0)
        if "%" in given["stroke-width"]:
            raise Unreadable("a stroke-width in percent is not read")
    if "stroke-miterlimit" in given:
        changes["miter_limit"] = length_px(given["stroke-miterlimit"], 0)
    if "visibility" in given:
        changes["visible"] = given["visibility"] == "visible"
    return replace(style, **changes)  # type: ignore[arg-type]  # keys are fields, typed above


def share(text: str) -> float:
    """An opacity from 0 to 1, written as number or percentage. raises: Unreadable."""
    return min(1.0, max(0.0, length_px(text, 1.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """One property and its value."""

    lower_name: str
    text: str
    important: bool


def declarations(text: str) -> Iterator[Declaration]:
    """The declarations of a style attribute or rule; what CSS cannot read is left out."""
    if not text:
        return
    for found in tinycss2.parse_declaration_list(text, skip_comments=True, skip_whitespace=True):
        if found.type == "declaration":
            yield _declaration(found)


_WORDS = {
    "fill-rule": "fill_rule",
    "clip-rule": "clip_rule",
    "stroke-linejoin": "line_join",
    "stroke-linecap": "line_cap",
    "stroke-dasharray": "dashes",
}
_STYLED = {
    "color", "fill", "stroke", "fill-opacity", "stroke-opacity", "stroke-width",
    "stroke-miterlimit", "visibility", *_WORDS,
}  # fmt: skip


def _declaration(found: "tinycss2.ast.Declaration") -> Declaration:
    return Declaration(
        lower_name=found.lower_name,
        text=tinycss2.serialize(found.value).strip(),
        important=found.important,
    )


def _add_rule(
    rule: "tinycss2.ast.Node",
    matcher: cssselect2.Matcher,
    important: cssselect2.Matcher,
    work: Work,
    where: str,
) -> list[Note]:
    """Give one rule to the matchers; a note where it is not understood.

    raises: Fault when the rules so far would take too long.
    """
    if rule.type == "at-rule":
        if rule.lower_at_keyword in ("charset", "namespace", "font-face"):
            return []  # say nothing about shapes
        return [_ignored(f"@{rule.at_keyword}", where)]
    if rule.type != "qualified-rule":
        return [_ignored("a piece that CSS does not know", where)]
    found = [
        _declaration(d)
        for d in tinycss2.parse_declaration_list(rule.content, skip_comments=True)
        if d.type == "declaration"
    ]
    parts = each_selector(rule.prelude)
    if any(is_long(part) for part in parts):
        return [_ignored("a selector of hundreds of parts", where)]
    try:
        selectors = cssselect2.compile_selector_list(rule.prelude)
    except (cssselect2.SelectorError, RecursionError):
        return [_ignored(tinycss2.serialize(rule.prelude).strip(), where)]
    work.add(selectors, parts, sum(len(d.lower_name) + len(d.text) for d in found), where)
    for selector in selectors:
        matcher.add_selector(selector, [d for d in found if not d.important])
        important.add_selector(selector, [d for d in found if d.important])
    return []


def _ignored(piece: str, where: str) -> Note:
    piece = piece if len(piece) <= PIECE_MOST else f"{piece[:PIECE_MOST]}…"
    return Note(
        level="look",
        where=where,
        text=f"the style sheet's {piece!r} is not understood and left out",
    )


def _write_winners(
    element: Element,
    rules: list[tuple[object, ...]],
    important: list[tuple[object, ...]],
    source: str,
) -> Iterator[Fault]:
    """Put what wins for one element where attributes and inline style are read from."""
    inline = list(declarations(element.get("style", "")))
    where = place(source, element)
    winners: dict[str, str] = {}
    for group in (
        _matched(rules),
        [d for d in inline if not d.important],
        _matched(important),
        [d for d in inline if d.important],
    ):
        winners.update((d.lower_name, d.text) for d in group)
    for name in sorted(GEOMETRY & winners.keys()):
        element.set(name, winners.pop(name))
    yield from _plain_colours(element, winners, where)
    yield from _plain_transform(element, winners, where)
    if winners:
        element.set("style", ";".join(f"{name}:{text}" for name, text in winners.items()))
    elif "style" in element.attrib:
        del element.attrib["style"]
    placed = [(name, element.get(name, "")) for name in sorted(GEOMETRY)]
    for name, text in (*placed, *winners.items()):
        if _COMPUTED.search(text):
            yield Fault(
                what=f"{name} is {text!r}: values that CSS computes are not read",
                where=where,
                do="write the value itself",
            )
    for name in sorted(UNREAD & winners.keys()):
        if winners[name] not in ("none", "auto"):
            yield Fault(
                what=f"the style says {name}: {winners[name]!r}, which is not read",
                where=where,
                do="write it as an attribute of the shape: transform, or d",
            )


def _matched(found: list[tuple[object, ...]]) -> Iterator[Declaration]:
    """Declarations of the rules that match an element, weakest first."""
    for *_, pseudo, payload in found:
        if pseudo is None:
            assert isinstance(payload, list)
            yield from payload


def _plain_colours(element: Element, winners: dict[str, str], where: str) -> Iterator[Fault]:
    """Write colours so that the converter and we understand the same."""
    for name in COLOURED:
        try:
            if name in winners:
                winners[name] = in_plain_words(winners[name])
            if name in element.attrib:
                element.set(name, in_plain_words(element.get(name, "").strip()))
        except Unreadable as trouble:
            do = "write it as #rrggbb, as it should be printed"
            yield Fault(what=str(trouble), where=where, do=do)


def _plain_transform(element: Element, winners: dict[str, str], where: str) -> Iterator[Fault]:
    """Make the transform a matrix; refuse what moves it in ways that are not read."""
    text = element.get("transform")
    origin = winners.pop("transform-origin", element.attrib.pop("transform-origin", "0 0"))
    box = winners.get("transform-box", element.get("transform-box", "view-box"))
    if text is None:
        return
    x, y = _origin_px(str(origin))
    if x is None or y is None or ((x or y) and box != "view-box"):
        yield Fault(
            what=f"transform-origin is {origin!r}: only two numbers of px are read",
            where=where,
            do="apply the transform in the drawing program, or write it as a matrix",
        )
        return
    try:
        turned = product(product(shift(x, y), transform(text)), shift(-x, -y))
        element.set("transform", written(turned if x or y else transform(text)))
    except Unreadable as trouble:
        yield Fault(what=str(trouble), where=where, do="write it as a matrix of six numbers")


def _origin_px(text: str) -> tuple[float | None, float | None]:
    """Where a transform turns about; None where that depends on a box."""
    words = [word for word in re.split(r"[\s,]+", text.strip()) if word]
    words = [{"left": "0", "top": "0"}.get(word, word) for word in words]
    if len(words) not in (1, 2, 3):
        return None, None
    parts = [_plain_px(word) for word in words[:2]]
    if len(parts) == 1:  # the other is the middle of a box
        parts.append(0.0 if parts[0] == 0 else None)
    return parts[0], parts[1]


def _plain_px(word: str) -> float | None:
    """A length in px; None for words and units that depend on others."""
    if "%" in word:
        return 0.0 if re.fullmatch(r"[+-]?0+(\.0*)?%", word) else None
    try:
        return length_px(word, 0)
    except Unreadable:
        return None


def _paint(text: str, color: Rgb, inherited: Paint | None) -> Paint | None:
    """A fill or stroke value; one that CSS would drop is inherited."""
    targets = url_targets(text)
    if targets:
        return Paint(server=targets[0][1:])
    if text == "none":
        return None
    if text.lower() == "currentcolor":
        return Paint(rgb=color)
    found = parse_color(text)
    if not isinstance(found, RGBA):
        return inherited
    return Paint(rgb=_bytes(found), seen=found.alpha > 0)


def _rgb(text: str) -> Rgb | None:
    """A colour's three bytes; None when it is not one."""
    found = parse_color(text) if text else None
    return _bytes(found) if isinstance(found, RGBA) else None


def _bytes(color: RGBA) -> Rgb:
    red, green, blue = (round(255 * min(1.0, max(0.0, part))) for part in color[:3])
    return red, green, blue
