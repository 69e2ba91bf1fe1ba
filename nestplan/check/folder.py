"""The folder as it lies there: what is listed, what is there, and whether it was changed."""

import hashlib
from pathlib import Path, PurePath

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.said import SUMMARY, Said
from nestplan.faults import Fault
from nestplan.figures import count

PRINT, PROOF = "print.pdf", "proof.pdf"
FIT = "fit.json"  # what tells a folder of measured marks
TABLES = tuple(
    f"{name}.csv" for name in ("marks", "decals", "frames", "placements", "setups", "figures")
)


def cut_name(index: int) -> str:
    """File name of a frame's cut layer; index from 1."""
    return f"cut-{index:02d}.svg"


def dxf_name(index: int) -> str:
    """The same cut layer as DXF."""
    return f"cut-{index:02d}.dxf"


def summary_bytes(path: Path) -> bytes:
    """raises: Fault where there is no folder, or no plan in it."""
    if not path.is_dir():
        raise Fault(
            what="there is no such folder",
            where=str(path),
            do="name the folder that `nestplan plan` wrote with --out",
        )
    if (path / FIT).exists() and not (path / SUMMARY).exists():
        raise Fault(
            what="this folder holds a fit of measured marks, not a plan",
            where=str(path / FIT),
            do="name the folder of the plan that it corrects; fit.json says which",
        )
    try:
        return (path / SUMMARY).read_bytes()
    except OSError as error:
        raise Fault(
            what="there is no plan in this folder",
            where=f"{path / SUMMARY}: {error.strerror or error}",
            do="name the folder that `nestplan plan` wrote with --out",
        ) from error


def read_folder(path: Path, said: Said) -> tuple[dict[str, bytes], list[Claim]]:
    """Every file that is there, by name, and whether they are those that were written."""
    missing: list[Finding] = []
    changed: list[Finding] = []
    files: dict[str, bytes] = {}
    needed = {PRINT, PROOF, *TABLES}
    needed |= {name(frame.index) for frame in said.frames for name in (cut_name, dxf_name)}
    for name in sorted(needed | set(said.files)):
        data = _read(path, name)
        if data is None:
            missing.append(_finding(Kind.FILE_MISSING, name, "nothing", "a file"))
            continue
        files[name] = data
        digest = hashlib.sha256(data).hexdigest()
        meant = said.files.get(name, "no digest in the summary")
        if digest != meant.lower():
            changed.append(
                _finding(Kind.FILE_CHANGED, name, f"sha256 {digest[:12]}", f"{meant[:12]}")
            )
    stray = [
        _finding(Kind.FILE_STRAY, each.name, "a cut layer", "a cut layer for each frame only")
        for each in sorted(path.glob("cut-*"))
        if each.name not in needed | set(said.files)
    ]
    claims = [
        Claim(says=f"all {count(len(needed), 'file')} are there", against=tuple(missing)),
        Claim(says="every file is the one that was written", against=tuple(changed)),
        Claim(says="no other cut layer lies beside them", against=tuple(stray)),
    ]
    return files, claims


def _read(folder: Path, name: str) -> bytes | None:
    """The file's bytes; None where it is not there, or its name leads out of the folder."""
    if PurePath(name).name != name or "\0" in name:
        return None
    try:
        return (folder / name).read_bytes()
    except OSError:
        return None


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
