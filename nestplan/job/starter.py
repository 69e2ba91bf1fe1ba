"""What `nestplan init` writes: a small job that plans as it is and explains itself."""

from importlib.resources import files
from importlib.resources.abc import Traversable


def starter_files() -> dict[str, bytes]:
    """The files of a first job, by path in its folder; its job file is job.toml."""
    found = _below(files("nestplan.job") / "starter_job", "")
    assert "job.toml" in found, "the package was built without its starter job"
    return found


def _below(folder: Traversable, prefix: str) -> dict[str, bytes]:
    found = {}
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            found.update(_below(entry, f"{prefix}{entry.name}/"))
        elif entry.name.endswith((".toml", ".svg")):
            found[f"{prefix}{entry.name}"] = entry.read_bytes()
    return found
