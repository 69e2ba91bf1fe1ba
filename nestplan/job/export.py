"""Refresh the JSON Schemas and key tables in docs/reference after a key was added or changed:

python -m nestplan.job.export docs/reference
"""

import sys
from pathlib import Path

from nestplan.job.pages import reference_pages
from nestplan.job.schema import schema_files


def export(folder: Path) -> None:
    """Write schemas and pages into the folder, over those that are there."""
    for name, text in (schema_files() | reference_pages()).items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    export(Path(sys.argv[1]))
