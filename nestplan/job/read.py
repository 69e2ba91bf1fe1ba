"""Job and shop files in, one checked `Job` out; every fault found is reported at once."""

from dataclasses import dataclass
from pathlib import Path

from nestplan.job.job_file import JobFile
from nestplan.job.shop_file import Machine, Roll, Setup, ShopFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job file and its shop file, with the names in them resolved."""

    path: Path
    order: JobFile
    shop_path: Path
    shop: ShopFile
    roll: Roll
    setup: Setup
    printer: Machine
    cutter: Machine

    @property
    def folder(self) -> Path:
        """The folder artwork must lie in."""
        return self.path.parent


def read_job(path: Path) -> Job:
    """Read and check a job file and the shop file it names.

    raises: Fault or Faults, each with file, key, value found and what would be right.
    """
    raise NotImplementedError
