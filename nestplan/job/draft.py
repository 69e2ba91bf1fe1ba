"""A file that could be read, with the rows that are sound on their own.

A fault in one decal must not hide what is wrong with the next, so each row of a list is
checked by itself and later checks go on with those that passed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from nestplan.faults import Fault
from nestplan.job.place import Keys, place
from nestplan.job.shape import shape_faults
from nestplan.job.toml_file import Tables
from nestplan.job.values import Strict

Model = TypeVar("Model", bound=Strict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row(Generic[Model]):
    """One table of a list. sound: None when a key or value in it is wrong."""

    at: int
    name: str | None
    sound: Model | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What stands in a file, right or wrong."""

    path: Path
    tables: Tables

    def where(self, *keys: str | int) -> str:
        """The place of a value, for people."""
        return place(self.path.name, self.tables, keys)

    def fault(self, what: str, keys: Keys, do: str, code: int | None = None) -> Fault:
        """A fault of the value under these keys."""
        fault = Fault(what=what, where=self.where(*keys), do=do)
        if code is not None:
            fault.code = code
        return fault

    def shape_faults(self, model: type[Strict]) -> list[Fault]:
        """Keys and values that are wrong by themselves."""
        return shape_faults(self.path.name, self.tables, model)

    def text(self, key: str) -> str | None:
        """A text at the top of the file, if there is one."""
        value = self.tables.get(key)
        return value if isinstance(value, str) and value else None

    def rows(self, key: str, model: type[Model]) -> list[Row[Model]]:
        """The tables of a list, sound or not; what is no table is left out."""
        return list(self._rows(key, model))

    def _rows(self, key: str, model: type[Model]) -> Iterator[Row[Model]]:
        listed = self.tables.get(key)
        for at, table in enumerate(listed if isinstance(listed, list) else []):
            if isinstance(table, dict):
                name = table.get("name")
                yield Row(
                    at=at,
                    name=name if isinstance(name, str) else None,
                    sound=_sound(table, model),
                )


def _sound(table: dict[str, Any], model: type[Model]) -> Model | None:
    try:
        return model.model_validate(table)
    except ValueError:  # pydantic's own is one
        return None
