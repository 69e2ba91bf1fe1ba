"""Changes to a folder's files that leave every digest right, and every table with its figures."""

import hashlib
import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from nestplan.check import Findings
from nestplan.files.tables import tables


def bend(folder: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Change the summary, and the tables with it as far as they can say what it says then."""
    path = folder / "summary.json"
    said = json.loads(path.read_bytes())
    change(said)
    with suppress(AttributeError, LookupError, TypeError, ValueError):
        for name, data in tables(said).items():
            (folder / name).write_bytes(data)
            said["files"][name] = hashlib.sha256(data).hexdigest()
    path.write_text(json.dumps(said))


def edit(folder: Path, name: str, change: Callable[[bytes], bytes]) -> None:
    """Change a file and its digest."""
    data = change((folder / name).read_bytes())
    (folder / name).write_bytes(data)
    digest = hashlib.sha256(data).hexdigest()
    bend(folder, lambda said: said["files"].update({name: digest}))


def swap(folder: Path, name: str, old: str, new: str) -> None:
    """Put another text in a file once."""

    def swapped(data: bytes) -> bytes:
        assert old.encode() in data, "the text to change is there"
        return data.replace(old.encode(), new.encode(), 1)

    edit(folder, name, swapped)


def kinds(findings: Findings) -> list[int]:
    """Numbers of what was found, each once, sorted."""
    return sorted({finding.kind.number for finding in findings.found})
