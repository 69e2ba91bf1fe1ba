"""Files written together or not at all.

Every file is first written whole beside its place, as `.NAME.part`, and flushed to
the disk. Only then are the old files moved aside, as `.NAME.old`, and the new ones
moved in; the summary comes last. Whatever goes wrong before that last move puts the
old files back. A power cut in the middle of the moves is the one thing that can mix
old and new: the summary lists every file's digest, so `check` can tell.
"""

import errno
import json
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.files.summary import SUMMARY

DO = {
    errno.EACCES: "choose a folder you may write to",
    errno.EPERM: "choose a folder you may write to",
    errno.EROFS: "choose a folder on a disk that can be written",
    errno.EEXIST: "choose a name that is not a file",
    errno.ENOTDIR: "choose a folder whose path holds no file",
    errno.EISDIR: "move that folder away, or choose another one for the files",
    errno.ENAMETOOLONG: "choose a folder with a shorter name",
}


def write_together(
    folder: Path, files: Mapping[str, bytes], last: str = SUMMARY
) -> tuple[Path, ...]:
    """Write all files into a folder, which is made where it is missing, or none of them.

    files: contents by name; a name may hold folders, with slashes.
    last:  the file that is moved into place last. Where the folder has an older one that lists
           its `files`, those that are no longer written are taken away.
    returns: where the files lie, in the order they were moved in.
    raises: Fault (OUT_OF_REACH) when the folder or the disk refuses; what was there is as it
            was, also after Ctrl-C.
    """
    order = [*(name for name in files if name != last), last]
    places = [folder / name for name in order]
    made: list[Path] = []
    try:
        for place in places:
            _make_folder(place.parent, made)
            _mend(place)
        stale = _stale(folder, last, order)
        for place, name in zip(places, order, strict=True):
            _write(_part(place), files[name])
        _swap(places, stale)
    except BaseException as trouble:
        _clear_away(places, made)
        if isinstance(trouble, OSError):
            raise _fault(folder, trouble, sum(map(len, files.values()))) from trouble
        raise
    return tuple(places)


def write_new(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write all files into a folder where none of them is yet.

    raises: Fault (OUT_OF_REACH) when one is already there, or as `write_together`.
    """
    for name in files:
        if os.path.lexists(folder / name):
            raise Fault(
                what=f"{name} is already there and is not overwritten",
                where=str(folder / name),
                do="name another folder, or move the file away",
                code=OUT_OF_REACH,
            )
    return write_together(folder, files, last=list(files)[-1])


def _make_folder(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it; what was made is added to the list."""
    for missing in reversed([each for each in (folder, *folder.parents) if not each.exists()]):
        missing.mkdir()
        made.append(missing)
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))


def _clear_away(places: Iterable[Path], made: list[Path]) -> None:
    """Take away half-written files and folders made for them."""
    for place in places:
        with suppress(OSError):
            _part(place).unlink(missing_ok=True)
    for folder in reversed(made):
        with suppress(OSError):
            folder.rmdir()


def _mend(place: Path) -> None:
    """Clear away what a power cut may have left; refuse to take a folder for a file."""
    if place.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    if os.path.lexists(_old(place)):
        if os.path.lexists(place):
            _old(place).unlink()
        else:
            _old(place).replace(place)


def _stale(folder: Path, last: str, order: Iterable[str]) -> list[Path]:
    """Files of the plan before that the new one does not have; only plain names are believed."""
    try:
        names = list(json.loads((folder / last).read_bytes())["files"])
    except (FileNotFoundError, ValueError, TypeError, KeyError):  # no plan of ours before
        return []
    gone = {str(name) for name in names} - set(order)
    return sorted(
        folder / name for name in gone if Path(name).name == name and (folder / name).is_file()
    )


def _write(part: Path, data: bytes) -> None:
    """Write one file and wait until the disk has it."""
    part.unlink(missing_ok=True)
    with part.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _swap(places: list[Path], stale: list[Path]) -> None:
    """Move old files aside and new ones in; on any trouble move all back."""
    moved: dict[Path, bool] = {}  # place: was there a file before?
    try:
        for place in (*stale, *places):
            moved[place] = os.path.lexists(place)
            if moved[place]:
                place.replace(_old(place))
            if place not in stale:
                _part(place).replace(place)
    except BaseException as trouble:
        _put_back(moved, trouble)
        raise
    with suppress(OSError, KeyboardInterrupt):  # all is in place: too late to fail
        for folder in {place.parent for place in places}:
            _flush_folder(folder)
        for place in moved:
            _old(place).unlink(missing_ok=True)


def _put_back(moved: Mapping[Path, bool], trouble: BaseException) -> None:
    """Undo the moves, newest first. raises: Fault when the disk does not even allow that."""
    stuck = []
    for place, had_old in reversed(list(moved.items())):
        try:
            if not had_old:
                place.unlink(missing_ok=True)
            elif os.path.lexists(_old(place)):
                _old(place).replace(place)
        except OSError:
            stuck.append(place)
    if stuck:
        names = ", ".join(place.name for place in stuck)
        raise Fault(
            what=f"the files could not be written, and these not be put back: {names}",
            where=str(stuck[0].parent),
            do="in that folder rename each .NAME.old to NAME; they are the earlier files",
            code=OUT_OF_REACH,
        ) from trouble


def _flush_folder(folder: Path) -> None:
    """Wait until the disk knows the new names; not every system can."""
    held = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)


def _part(place: Path) -> Path:
    return place.with_name(f".{place.name}.part")


def _old(place: Path) -> Path:
    return place.with_name(f".{place.name}.old")


def _fault(folder: Path, trouble: OSError, size: int) -> Fault:
    """What a person should know and do about a refusal of the disk."""
    reason = (trouble.strerror or str(trouble)).lower()
    if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
        do = f"free at least {size / 1e6:.1f} MB there, or choose a folder on another disk"
    else:
        do = DO.get(trouble.errno or 0, "choose another folder")
    return Fault(
        what=f"the files could not be written: {reason}",
        where=str(trouble.filename or folder),
        do=f"{do}; earlier files are as they were",
        code=OUT_OF_REACH,
    )
