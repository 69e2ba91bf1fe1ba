"""Entities of a drawing's document type, where they are plain words, as older programs save them.

Anything that could grow or reach outside (entities in entities, files, parameters) is left
for the caller to refuse.
"""

import re

VALUE_MOST = 2_000  # characters; namespaces and short styles take a tenth
GROWN_MOST = 10_000_000  # bytes
_DOCTYPE = re.compile(rb"<!DOCTYPE[^\[>]*\[(?P<inside>.*?)\]\s*>", re.DOTALL)
_ENTITY = re.compile(rb"<!ENTITY\s+([A-Za-z_][\w.-]*)\s+(\"[^\"]*\"|'[^']*')\s*>")


def without_entities(data: bytes) -> bytes | None:
    """The file with every entity written out; None where they are not plain words."""
    head = _DOCTYPE.search(data)
    if head is None or b"\0" in data:
        return None
    inside = head["inside"]
    values = {name: text[1:-1] for name, text in _ENTITY.findall(inside)}
    rest = _ENTITY.sub(b"", re.sub(rb"<!--.*?-->", b"", inside, flags=re.DOTALL))
    if not values or b"<!ENTITY" in rest:
        return None
    if any(len(value) > VALUE_MOST or re.search(rb"[&%<]", value) for value in values.values()):
        return None
    body = data[: head.start()] + data[head.end() :]
    names = re.compile(b"&(" + b"|".join(map(re.escape, values)) + b");")
    grown = len(body) + sum(len(values[name]) for name in names.findall(body))
    if grown > GROWN_MOST + len(body):
        return None
    return names.sub(lambda found: values[found[1]], body)
