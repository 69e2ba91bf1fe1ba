"""What tells one plan from all others: a digest of all that it says, known before it is written."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

SIGNS = 12  # of the digest: enough for 10 million plans, few enough for a small code


def digest_of(contents: Mapping[str, Any]) -> str:
    """sha256, hex, of a summary's contents without its own id and without the files' digests."""
    kept = {key: value for key, value in contents.items() if key not in ("plan", "files")}
    text = json.dumps(kept, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def plan_id(digest: str) -> str:
    """As it stands in the summary and in the code on the film."""
    return digest[:SIGNS]


def document_id(digest: str) -> str:
    """As it stands in the metadata of the print: a UUID of our own making (version 8)."""
    bits = int(digest[:32], 16)
    bits = bits & ~(0xF << 76) | (8 << 76)
    bits = bits & ~(0x3 << 62) | (0x2 << 62)
    return f"uuid:{UUID(int=bits)}"
