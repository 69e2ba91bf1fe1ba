"""What stands in a content stream, and what its names stand for (ISO 32000-1, 7.8)."""

import re

import pikepdf
from pikepdf import Dictionary, Name

Instruction = pikepdf.ContentStreamInstruction | pikepdf.ContentStreamInlineImage

# words that are neither in a string or a comment nor part of a name
_OPERATOR = re.compile(
    rb"\((?:[^()\\]|\\.|\((?:[^()\\]|\\.)*+\))*+\)|<[0-9A-Fa-f\s]*+>|%[^\r\n]*+"
    rb"|(?<![\w/*'\".])(?P<operator>[A-Za-z'\"][A-Za-z01*]*+)",
    re.DOTALL,
)


def operators_about(content: bytes, enough: int) -> int:
    """How many operators a content stream has, counted no further than `enough`.

    Words of strings whose brackets nest deeper than two are counted as well.
    """
    counted, at = 0, 0
    images_end = content.rfind(b"EI")
    while counted < enough and (found := _OPERATOR.search(content, at)):
        at = found.end()
        counted += bool(found["operator"])
        if found["operator"] == b"ID" and at < images_end:  # what follows are samples
            at = content.find(b"EI", at)
    return counted


def named(
    resources: pikepdf.Object | None, kind: str, name: pikepdf.Object
) -> pikepdf.Object | None:
    """The resource of a kind ("/Font") that has this name; None when there is none."""
    if resources is None or not isinstance(name, Name):
        return None
    table = resources.get(kind)
    return table.get(name) if isinstance(table, Dictionary) else None
