"""A planned run comes in; its files, written together or not at all, go out."""

from nestplan.files.run import Run

__all__ = ["Run"]
