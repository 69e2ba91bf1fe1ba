"""Bytes become a tree of SVG elements, or a fault: nothing is fetched and nothing grows.

Whatever reaches outside the file is refused here, before any other module looks at it:
entities, style sheets, links to files or the network. `data:` pictures may stay.
"""

import base64
import binascii
import re
from collections.abc import Iterator
from typing import TypeAlias
from urllib.parse import unquote_to_bytes

from lxml import etree
from PIL import Image

from nestplan.artwork.pixels import PIXELS_MOST, PixelsUnreadable, open_pixels
from nestplan.artwork.svg.entities import without_entities
from nestplan.faults import Fault, raise_all

SVG = "http://www.w3.org/2000/svg"
ELEMENTS_MOST = 20_000  # a decal drawn by hand has hundreds
NUMBERS_MOST = 1_000_000  # of all paths; what was traced from a photograph has a tenth of it
NUMBER_END = re.compile(r"\d(?![\d.])")
EFFECT_MOST = {"numOctaves": 10, "order": 15}
PICTURE_KINDS = ("PNG", "JPEG", "WEBP", "GIF")

Element: TypeAlias = etree._Element  # lxml exports no public name for its element type

_URL = re.compile(r"url\(\s*['\"]?\s*([^'\")\s]*)", re.IGNORECASE)
_PARSER_LIMITS = (114, 89)  # libxml2: a name or tree too large, entities amplified


def parse_svg(data: bytes, source: str) -> Element:
    """The root element. raises: Fault or Faults; source names the file in them."""
    if b"<!ENTITY" in data.replace(b"\0", b""):  # also in UTF-16
        plain = without_entities(data)
        if plain is None:
            raise _entities(source)
        data = plain
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, remove_pis=False
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise _malformed(error, data, source) from None
    except (LookupError, ValueError) as error:
        raise _not_xml(str(error), source) from None
    if root.tag != f"{{{SVG}}}svg":
        raise Fault(
            what=f"the file's first element is <{name_of(root)}>, not <svg> of SVG",
            where=source,
            do=f'save it as plain SVG; its first element needs xmlns="{SVG}"',
        )
    if sum(1 for _ in root.iter()) > ELEMENTS_MOST:
        raise Fault(
            what=f"the art has more than {ELEMENTS_MOST} elements",
            where=source,
            do="simplify the drawing, or trace it again with fewer shapes",
        )
    numbers = sum(
        len(NUMBER_END.findall(str(element.get(key, ""))))
        for element in root.iter(etree.Element)
        for key in ("d", "points")
    )
    if numbers > NUMBERS_MOST:
        raise Fault(
            what=f"the art's paths have more than {NUMBERS_MOST} numbers",
            where=source,
            do="simplify the paths in the drawing program, or hand it in as a picture",
        )
    faults = [_outside_sheets, _outside_references, _endless_effects]
    raise_all([fault for find in faults for fault in find(root, source)])
    return root


def name_of(element: Element) -> str:
    """The element's name without its namespace; "" for comments and the like."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def is_svg(element: Element) -> bool:
    """Whether the element is SVG's own, no comment and no editor's note."""
    tag = element.tag
    return isinstance(tag, str) and tag.startswith(f"{{{SVG}}}")


def place(source: str, element: Element) -> str:
    """Where an element stands, as a person would search for it."""
    name = f' id="{element.get("id")}"' if element.get("id") else ""
    line = f" in line {element.sourceline}" if element.sourceline else ""
    return f"{source}, <{name_of(element)}{name}>{line}"


def href(element: Element) -> str | None:
    """What the element refers to, in the new or the old spelling."""
    found = element.get("href", element.get("{http://www.w3.org/1999/xlink}href"))
    return None if found is None else found.strip()


def url_targets(text: str) -> list[str]:
    """What the url() parts of a style refer to."""
    return _URL.findall(text)


def data_picture(link: str) -> Image.Image | None:
    """The picture a data: link holds, its pixels not read yet; None when it holds none."""
    head, comma, body = link.partition(",")
    if not comma or not head.lower().startswith("data:"):
        return None
    try:
        raw = unquote_to_bytes(body)
        if head.lower().rstrip().endswith(";base64"):
            raw = base64.b64decode(raw)
        return open_pixels(raw, PICTURE_KINDS)
    except (PixelsUnreadable, binascii.Error):
        return None


def _outside_sheets(root: Element, source: str) -> Iterator[Fault]:
    """Style sheets that are not in the file."""
    for before in root.itersiblings(preceding=True):
        if getattr(before, "target", None) == "xml-stylesheet":
            yield _outside("<?xml-stylesheet?>", f"{source}, line {before.sourceline}")


def _outside_references(root: Element, source: str) -> Iterator[Fault]:
    """References that lead out of the file, one fault an element."""
    for element in root.iter():
        if not is_svg(element) or name_of(element) in ("a", "script"):
            continue  # links for a reader and scripts have no part in the print
        where = place(source, element)
        link = href(element)
        if link is not None and link[:5].lower() == "data:":
            if name_of(element) in ("image", "feImage"):
                yield from _bad_picture(link, where)
            else:
                yield _outside(link[:24], where)
        elif link is not None and not link.startswith("#"):
            yield _outside(link, where)
        texts = [str(text) for text in element.attrib.values()]
        texts += [element.text or ""] if name_of(element) == "style" else []
        for target in (target for text in texts for target in url_targets(text)):
            if not target.startswith("#"):
                yield _outside(target, where)
        if name_of(element) == "style" and "@import" in (element.text or "").lower():
            yield _outside("@import", where)


def _endless_effects(root: Element, source: str) -> Iterator[Fault]:
    """Effects whose cost grows with a number in the file, and shows nothing for it."""
    for element in root.iter(f"{{{SVG}}}feTurbulence", f"{{{SVG}}}feConvolveMatrix"):
        for key, most in EFFECT_MOST.items():
            found = re.findall(r"\d+", element.get(key, ""))
            if any(len(number) > 3 or int(number) > most for number in found):
                yield Fault(
                    what=f"{key} is {element.get(key)}: this effect would take hours to draw",
                    where=place(source, element),
                    do=f"write {most} at most, or turn the effect into a picture",
                )


def _bad_picture(link: str, where: str) -> Iterator[Fault]:
    """An embedded picture that cannot be read, or unfolds to too many pixels."""
    picture = data_picture(link)
    if picture is None:
        yield Fault(
            what="an embedded picture cannot be read",
            where=where,
            do=f"embed it again as one of {', '.join(PICTURE_KINDS)}",
        )
    elif picture.width * picture.height > PIXELS_MOST:
        yield Fault(
            what=f"an embedded picture has {picture.width} × {picture.height} pixels, more than "
            f"{PIXELS_MOST // 1_000_000} million",
            where=where,
            do="embed it at the resolution it is printed at",
        )


def _outside(link: str, where: str) -> Fault:
    shown = link if len(link) <= 60 else link[:60] + "…"
    return Fault(
        what=f"the art refers to something outside its file: {shown!r}",
        where=where,
        do="embed what it refers to, then remove the reference: nothing outside is read",
    )


def _entities(source: str) -> Fault:
    return Fault(
        what="the file defines entities, with which a small file can grow without bound "
        "(an entity bomb)",
        where=f"{source}, <!ENTITY> in its <!DOCTYPE>",
        do="save it as plain SVG, without entities",
    )


def _malformed(error: etree.XMLSyntaxError, data: bytes, source: str) -> Fault:
    line, column = error.position
    if error.code in _PARSER_LIMITS:
        return Fault(
            what="the file is nested too deep or holds an attribute over 10 MB",
            where=f"{source}:{line}:{column}",
            do="ungroup the drawing; embed pictures at the resolution they are printed at",
        )
    if data[:2] == b"\x1f\x8b":
        return _not_xml("it is compressed", source)
    reason = re.sub(r",? line \d+, column \d+.*", "", str(error.msg), flags=re.DOTALL)
    return Fault(
        what=f"the file is not well-formed XML: {reason}",
        where=f"{source}:{line}:{column}",
        do="save it again as plain SVG; it may have been cut off on its way",
    )


def _not_xml(reason: str, source: str) -> Fault:
    return Fault(
        what=f"the file cannot be read as SVG: {reason}",
        where=source,
        do="save it again as plain SVG",
    )
