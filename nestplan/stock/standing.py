"""The plan that stands in a folder already: whether it is of this job, and may be booked."""

import json
from hashlib import sha256
from pathlib import Path
from typing import Any

from nestplan.faults import Fault
from nestplan.job import Job

SUMMARY = "summary.json"
BYTES_MOST = 200_000_000
HOW = ("aim",)  # keys that an option may stand in for: they say how it is planned, not what


def standing_plan(folder: Path) -> dict[str, Any] | None:
    """The summary of the plan in a folder; None where there is none. raises: Fault."""
    file = folder / SUMMARY
    try:
        if file.stat().st_size > BYTES_MOST:
            raise ValueError("far too large")
        said = json.loads(file.read_bytes())
        if not isinstance(said, dict) or not isinstance(said.get("inputs"), dict):
            raise ValueError("not a summary")
    except FileNotFoundError:
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise Fault(
            what=f"the plan in {folder.name} cannot be read: {error}",
            where=str(file),
            do="plan the job again",
        ) from None
    return said


def refuse_other_plan(said: dict[str, Any], job: Job, folder: Path) -> None:
    """raises: Fault where the plan in the folder was not made from this job as it is now."""
    changed = changes_since(said, job)
    if changed:
        raise Fault(
            what=f"the plan in {folder.name} is not of this job as it is now: {changed} changed",
            where=str(folder),
            do="if that plan was printed, book it with the job as it was; if not, plan again "
            "without --commit first, or name another folder",
        )


def changes_since(said: dict[str, Any], job: Job) -> str:
    """What changed since a plan was made, its job and its artwork; empty where nothing did."""
    inputs = said["inputs"]
    now = job.order.model_dump(mode="json", exclude_unset=True, by_alias=True)
    before = inputs.get("job")
    if not isinstance(before, dict):
        return "the job file"
    keys = [k for k in {**before, **now} if before.get(k) != now.get(k) and k not in HOW]
    if keys:
        return f"{job.path.name} ({', '.join(sorted(keys))})"
    digests = [inputs.get("art"), inputs.get("rows")]
    start_on = said.get("start_on")
    digests.append(start_on.get("drawing") if isinstance(start_on, dict) else None)
    for each in digests:
        for name, digest in (each if isinstance(each, dict) else {}).items():
            if _digest(job.folder / str(name)) != digest:
                return str(name)
    return ""


def _digest(file: Path) -> str:
    try:
        return sha256(file.read_bytes()).hexdigest()
    except (OSError, ValueError):
        return ""
