"""What a person calls the parts of a drawing, whatever program saved it."""

import re

from nestplan.artwork.svg.parse import SVG, Element

TITLE = f"{{{SVG}}}title"
_HEX = re.compile(r"_x([0-9A-Fa-f]{2,4})_")


def names_of(element: Element) -> frozenset[str]:
    """What an element is called: its id, an editor's label, or its title.

    An id holds no spaces; programs write them, and other signs, by their numbers in hex.
    """
    names = {
        str(text).strip()
        for key, text in element.attrib.items()
        if str(key).rpartition("}")[2] in ("id", "label", "data-name")
    }
    names |= {"".join(child.itertext()).strip() for child in element.iterchildren(TITLE)}
    names |= {_HEX.sub(lambda found: chr(int(found[1], 16)), name) for name in names}
    return frozenset(names - {""})
