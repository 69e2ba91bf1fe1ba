"""The job file that a plan was made from: the plan knows its name, not where it lies."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

from nestplan.again.printed import Printed
from nestplan.faults import Fault

UP = 3  # folders above the plan that are looked into, each with the folders in it
FILES_MOST = 400
BYTES_MOST = 1_000_000
AGAIN = ", again"  # what the name of a job ends in whose copies are printed once more


def job_file_of(printed: Printed) -> Path:
    """The one job file near the plan's folder with its name and decals. raises: Fault."""
    found = [path for path in _near(printed.folder) if _is_of(path, printed)]
    if len(found) == 1:
        return found[0]
    what = "no job file of this plan was found near it"
    if found:
        what = f"several job files may be this plan's: {', '.join(map(str, found[:4]))}"
    raise Fault(
        what=what, where=str(printed.folder), do="name the file it was planned from: --job JOB.toml"
    )


def plain_name(job: str) -> str:
    """A job's own name, printed again or not."""
    while job.endswith(AGAIN):
        job = job.removesuffix(AGAIN)
    return job


def _near(folder: Path) -> Iterator[Path]:
    seen: set[Path] = set()
    for above in list(folder.resolve().parents)[:UP]:
        try:
            files = sorted([*above.glob("*.toml"), *above.glob("*/*.toml")])
        except OSError:
            continue
        for file in files[:FILES_MOST]:
            if file not in seen:
                seen.add(file)
                yield file


def _is_of(path: Path, printed: Printed) -> bool:
    try:
        if path.stat().st_size > BYTES_MOST:
            return False
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        names = {row["name"] for row in tables["decal"]}
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return tables.get("name") == plain_name(printed.job) and names >= {
        decal.name for decal in printed.decals
    }
