"""A former plan that a job starts from: where its copies and marks lie, from its summary alone."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.faults import Fault, key_place
from nestplan.geometry.outline import Outline, turn

SUMMARY = "summary.json"
SCHEMA = 1
BYTES_MOST = 200_000_000  # a hundred thousand copies take a tenth of that
LONGEST_MM = 1e7  # ten kilometres: no roll is as long

Mm = Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM, allow_inf_nan=False)]
SizeMm = Annotated[float, Field(ge=0, le=LONGEST_MM, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=1, le=10_000_000)]


class _Part(BaseModel):
    """A part of the summary; what it says besides is not needed here."""

    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


_Rings = Annotated[list[Annotated[list[tuple[Mm, Mm]], Field(min_length=3)]], Field(min_length=1)]


class FormerDecal(_Part):
    """A design of the former plan. contour, backing: upright rings about the contour's centre.

    mirrored: its copies are; the summary says so copy by copy.
    """

    name: str
    mirrored: bool = False
    contour: _Rings
    backing: _Rings | None = None

    @property
    def footprint(self) -> Outline:
        """What is cut outermost on the printed side, about the contour's centre."""
        rings = self.backing or self.contour
        upright = Outline(rings=tuple(np.array(ring) for ring in rings))
        return upright.mirrored() if self.mirrored else upright

    @property
    def centre_mm(self) -> NDArray[np.float64]:
        """(2,) centre of the footprint's bounding box, about the contour's."""
        if self.backing is None:
            return np.zeros(2)
        left, bottom, right, top = self.footprint.bounds_mm
        return np.array([(left + right) / 2, (bottom + top) / 2])

    @property
    def rings(self) -> list[NDArray[np.float64]]:
        """The footprint's, about its own centre; each (n, 2), mm."""
        return [ring - self.centre_mm for ring in self.footprint.rings]


class FormerCopy(_Part):
    """A copy in run coordinates. decal: its number, from 1."""

    decal: Number
    copy_: Annotated[int, Field(alias="copy", ge=1, le=10_000_000)]
    x_mm: Mm
    y_mm: Mm
    angle_deg: Annotated[float, Field(ge=-1e4, le=1e4, allow_inf_nan=False)]
    mirrored: bool = False


class FormerMark(_Part):
    """A mark's centre in run coordinates."""

    x_mm: Mm
    y_mm: Mm


class FormerFrame(_Part):
    """A frame with its marks and copies."""

    y0_mm: Mm
    marks: list[FormerMark]
    placements: list[FormerCopy]


class FormerMarks(_Part):
    """What every mark is."""

    size_mm: SizeMm
    clear_mm: SizeMm


class _Summary(_Part):
    schema_: Annotated[int, Field(alias="schema", ge=SCHEMA, le=SCHEMA)]
    job: str
    decals: Annotated[list[FormerDecal], Field(min_length=1)]
    frames: Annotated[list[FormerFrame], Field(min_length=1)]
    marks: FormerMarks


@dataclass(frozen=True, slots=True, kw_only=True)
class Former:
    """A former plan. folder: as the job names it; job: the name of the job it was made from.

    Copies lie where the centres of their footprints lie.
    """

    folder: str
    job: str
    decals: tuple[FormerDecal, ...]
    frames: tuple[FormerFrame, ...]
    marks: FormerMarks


def read_former(folder: Path, named: str, where: str) -> Former:
    """The plan in a folder that a job names. where: the key in the job file. raises: Fault."""
    summary = _summary(_bytes(folder, named, where), named, where)
    known = len(summary.decals)
    for number, frame in enumerate(summary.frames, start=1):
        for copy in frame.placements:
            if copy.decal > known:
                raise _damaged(named, where, f"frame {number} has a copy of decal {copy.decal}")
    turned_over = {
        copy.decal for frame in summary.frames for copy in frame.placements if copy.mirrored
    }
    decals = [
        decal.model_copy(update={"mirrored": number in turned_over})
        for number, decal in enumerate(summary.decals, start=1)
    ]
    return Former(
        folder=named,
        job=summary.job,
        decals=tuple(decals),
        frames=tuple(_of_footprints(frame, decals) for frame in summary.frames),
        marks=summary.marks,
    )


def _of_footprints(frame: FormerFrame, decals: list[FormerDecal]) -> FormerFrame:
    """The frame with its copies where the centres of their footprints lie, not their contours'."""
    moved = []
    for copy in frame.placements:
        x, y = turn(decals[copy.decal - 1].centre_mm, copy.angle_deg).tolist()
        moved.append(copy.model_copy(update={"x_mm": copy.x_mm + x, "y_mm": copy.y_mm + y}))
    return frame.model_copy(update={"placements": moved})


def _bytes(folder: Path, named: str, where: str) -> bytes:
    do = "name the folder that `nestplan plan` wrote with --out, from the job's folder"
    try:
        if not folder.is_dir():
            raise Fault(what=f"there is no folder {named!r}", where=where, do=do)
        with (folder / SUMMARY).open("rb") as file:
            data = file.read(BYTES_MOST + 1)
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        why = getattr(error, "strerror", None) or error
        what = f"there is no plan in {named!r}: {SUMMARY}: {why}"
        raise Fault(what=what, where=where, do=do) from None
    if len(data) > BYTES_MOST:
        raise _damaged(named, where, f"it is larger than {BYTES_MOST // 1_000_000} MB")
    return data


def _summary(data: bytes, named: str, where: str) -> _Summary:
    try:
        return _Summary.model_validate_json(data)
    except ValidationError as error:
        first: Any = error.errors(include_url=False)[0]
        place = key_place(first["loc"])
        why = f"{place + ': ' if place else ''}{str(first['msg']).lower()}"
        raise _damaged(named, where, why) from None


def _damaged(named: str, where: str, why: str) -> Fault:
    return Fault(
        what=f"the {SUMMARY} of the former plan {named!r} cannot be used: {why}",
        where=where,
        do="plan the former job again, or leave out from_plan",
    )
