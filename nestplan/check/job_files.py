"""The job's own files as they are now: the job, its artwork, its rows.

They are at hand where the job is named, or where its file lies in the plan's folder or in
one of the two folders above it, under the name that the summary has. Nothing is read that
lies outside the job's folder.
"""

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.said import Said
from nestplan.faults import Fault
from nestplan.figures import count

FOLDERS_UP = 2
FILE_MOST = 50_000_000  # bytes of a file: no plan was made from a larger one
SHORT = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JobFiles:
    """A job's file and what it says now. folder: of the job, where its artwork lies."""

    path: Path
    says: Mapping[str, Any]

    @property
    def folder(self) -> Path:
        return self.path.parent

    def read(self, source: str) -> bytes | None:
        """A file of the job by its path in it; None where there is none within its folder."""
        try:
            path = (self.folder / source).resolve(strict=True)
            home = self.folder.resolve(strict=True)
            if not path.is_relative_to(home) or not path.is_file():
                return None
            if path.stat().st_size > FILE_MOST:
                return None
            return path.read_bytes()
        except (OSError, ValueError, RuntimeError):
            return None


def job_files(said: Said, folder: Path, named: Path | None) -> JobFiles | None:
    """The job's files, if they are at hand. raises: Fault where the named job cannot be read."""
    if named is not None:
        try:
            return JobFiles(path=named, says=tomllib.loads(named.read_text("utf-8")))
        except (OSError, ValueError) as error:
            raise Fault(
                what="the job cannot be read",
                where=f"--job {named}: {error}",
                do="name the job file that the plan was made from, or leave --job out",
            ) from None
    name = said.inputs.job_file
    if not name or Path(name).name != name:
        return None
    here = folder.resolve()
    for place in [here, *here.parents][: FOLDERS_UP + 1]:
        try:
            says = tomllib.loads((place / name).read_text("utf-8"))
        except (OSError, ValueError):
            continue
        if says.get("name") == said.job:
            return JobFiles(path=place / name, says=says)
    return None


def job_file_claims(said: Said, files: JobFiles) -> list[Claim]:
    """The job says what was planned, and its files are those that the plan was made from."""
    sources = _sources(said)
    return [
        Claim(says=f"{files.path.name} says what was planned", against=tuple(_differ(said, files))),
        Claim(
            says=f"{count(len(sources), 'file')} that the plan was made from: none has changed",
            against=tuple(_changed(files, sources)),
        ),
    ]


def _sources(said: Said) -> dict[str, tuple[str, str]]:
    """Files by path: the digest they had, and who is made from them."""
    decals = said.inputs.job.decal
    found = {}
    for path, digest in said.inputs.art.items():
        whose = [order.name for order in decals if order.artwork == path]
        found[path] = digest, ", ".join(whose)
    for path, digest in said.inputs.rows.items():
        whose = [order.name for order in decals if order.rows == path]
        found[path] = digest, ", ".join(whose)
    return found


def _changed(files: JobFiles, sources: Mapping[str, tuple[str, str]]) -> Iterator[Finding]:
    for path, (digest, whose) in sorted(sources.items()):
        data = files.read(path)
        now = None if data is None else hashlib.sha256(data).hexdigest()
        if now != digest.lower():
            yield Finding(
                kind=Kind.SOURCE_CHANGED,
                where=f"{path}, {whose}" if whose else path,
                found="no such file in the job's folder" if now is None else f"sha256 {now[:12]}",
                meant=f"{digest[:12]} as planned",
            )


def _differ(said: Said, files: JobFiles) -> Iterator[Finding]:
    """Keys of the job file that were planned otherwise."""
    now, then = dict(files.says), dict(said.inputs.job_as_read)
    rows_now, rows_then = now.pop("decal", []), then.pop("decal", [])
    head = files.path.name
    yield from _keys(head, now, then)
    if not isinstance(rows_now, list) or len(rows_now) != len(rows_then):
        found = count(len(rows_now) if isinstance(rows_now, list) else 0, "decal")
        yield _other(head, found, count(len(rows_then), "decal"))
        return
    for number, (row, planned) in enumerate(zip(rows_now, rows_then, strict=True), start=1):
        if isinstance(row, dict) and isinstance(planned, dict):
            yield from _keys(f"{head}, {said.name(number)}", row, planned)


def _keys(where: str, now: Mapping[str, Any], then: Mapping[str, Any]) -> Iterator[Finding]:
    for key in sorted({*now, *then}):
        if _plain(now.get(key)) != _plain(then.get(key)):
            found, meant = _words(now.get(key)), _words(then.get(key))
            yield _other(f"{where}, {key}", found, f"{meant} as planned")


def _other(where: str, found: str, meant: str) -> Finding:
    return Finding(kind=Kind.JOB_CHANGED, where=where, found=found, meant=meant)


def _plain(value: Any) -> Any:
    """As JSON has it: dates and times are text, numbers are numbers."""
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value


def _words(value: Any) -> str:
    text = "nothing" if value is None else str(_plain(value))
    return text if len(text) <= SHORT else f"{text[: SHORT - 1]}…"
