"""Drawings and pictures that a job names: found in its folder, links followed, and read."""

from collections.abc import Collection
from pathlib import Path

from nestplan.faults import Fault

FILE_MOST = 50_000_000  # bytes


def find_file(folder: Path, artwork: str, kinds: Collection[str], *, where: str) -> Path:
    """The file, links followed. kinds: suffixes of what would do instead. raises: Fault."""
    try:
        path = (folder / artwork).resolve(strict=True)
        home = folder.resolve(strict=True)
    except FileNotFoundError:
        raise Fault(
            what=f"there is no file {artwork!r}",
            where=where,
            do=f"put it into {folder}, or correct its path: {_near(folder, artwork, kinds)}",
        ) from None
    except (OSError, ValueError, RuntimeError) as error:  # loops of links, names too long, NUL
        raise Fault(
            what=f"the path {artwork!r} cannot be followed: {error}",
            where=where,
            do="write the path of a file in the job's folder",
        ) from None
    if not path.is_relative_to(home):
        raise Fault(
            what=f"artwork {artwork!r} lies outside the job's folder, at {path}",
            where=where,
            do=f"copy it into {folder}: a job and its artwork travel together",
        )
    if not path.is_file():
        raise Fault(
            what=f"artwork {artwork!r} is no file",
            where=where,
            do=f"name a file that ends in {' or '.join(kinds)}",
        )
    return path


def _near(folder: Path, artwork: str, kinds: Collection[str]) -> str:
    """What there is instead."""
    beside = (folder / artwork).parent
    try:
        names = sorted(p.name for p in beside.iterdir() if p.suffix.lower() in kinds)
    except (OSError, ValueError):
        return f"there is no folder {beside.name!r}"
    return (
        f"{beside.name or '.'} has {', '.join(names[:8])}" if names else "there is none beside it"
    )


def read_file(path: Path, source: str) -> bytes:
    """The whole file. raises: Fault when it is unreadable, empty or too large."""
    try:
        with path.open("rb") as file:
            data = file.read(FILE_MOST + 1)
    except OSError as error:
        raise Fault(
            what=f"the file cannot be read: {error.strerror or error}",
            where=source,
            do="check its permissions and the disk",
        ) from None
    if not data:
        raise Fault(what="the file is empty", where=source, do="export it again")
    if len(data) > FILE_MOST:
        raise Fault(
            what=f"the file is larger than {FILE_MOST // 1_000_000} MB",
            where=source,
            do="save pictures at the resolution they are printed at, and shapes without effects",
        )
    return data
