"""The plan that was printed: where each copy's ink and cuts lie along the film."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.faults import Fault, key_place
from nestplan.stock import standing_plan

LONGEST_MM = 1e7

Mm = Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM, allow_inf_nan=False)]
SizeMm = Annotated[float, Field(ge=0, le=LONGEST_MM, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=1, le=10_000_000)]
Ring = Annotated[list[tuple[Mm, Mm]], Field(min_length=3)]
Key = tuple[str, int]  # a decal's name, the number of a copy


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class PrintedDecal(_Part):
    """A design. contour, backing: rings about the contour's centre, of the upright decal."""

    name: str
    ordered: Annotated[int, Field(ge=0, le=10_000_000)]
    area_mm2: Annotated[float, Field(gt=0, le=1e12)]
    bleed_mm: SizeMm
    contour: Annotated[list[Ring], Field(min_length=1)]
    backing: list[Ring] | None = None
    numbers: list[int] | None = None

    def is_extra(self, copy: int) -> bool:
        """Whether nobody ordered this copy."""
        return copy > self.ordered if self.numbers is None else copy not in self.numbers


class _Place(_Part):
    decal: Number
    copy_: Annotated[int, Field(alias="copy", ge=1, le=10_000_000)]
    y_mm: Mm
    angle_deg: Annotated[float, Field(ge=-1e4, le=1e4, allow_inf_nan=False)]
    mirrored: bool = False


class _Mark(_Part):
    y_mm: Mm


class _Frame(_Part):
    index: Number
    y0_mm: Mm
    length_mm: SizeMm
    marks: list[_Mark]
    placements: list[_Place]


class _Marks(_Part):
    size_mm: SizeMm


class _Roll(_Part):
    name: str
    length_used_mm: Annotated[float, Field(gt=0, le=LONGEST_MM)]


class _Inputs(_Part):
    art: dict[str, str]
    rows: dict[str, str] = {}


class _Summary(_Part):
    schema_: Annotated[int, Field(alias="schema", ge=1, le=1)]
    job: str
    plan: Annotated[str, Field(pattern=r"^[0-9a-f]{6,64}$")]
    inputs: _Inputs
    roll: _Roll
    decals: Annotated[list[PrintedDecal], Field(min_length=1)]
    marks: _Marks
    frames: Annotated[list[_Frame], Field(min_length=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """A copy on the film. low_mm, high_mm: from where to where along it has ink or a cut.

    marks_mm: where the ink of its frame's last mark ends.
    """

    decal: str
    number: int
    frame: int
    low_mm: float
    high_mm: float
    marks_mm: float
    area_mm2: float
    extra: bool

    @property
    def key(self) -> Key:
        """What tells it from all others."""
        return self.decal, self.number


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A plan as it was printed. said: its whole summary. art: digests by path, rows too."""

    folder: Path
    said: dict[str, Any]
    job: str
    plan: str
    used_mm: float
    decals: tuple[PrintedDecal, ...]
    copies: tuple[Copy, ...]
    art: dict[str, str]


def read_printed(folder: Path) -> Printed:
    """The plan in a folder. raises: Fault."""
    said = standing_plan(folder)
    if said is None:
        raise Fault(
            what="there is no plan",
            where=str(folder),
            do="name the folder that nestplan plan wrote with --out",
        )
    try:
        summary = _Summary.model_validate(said)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise _damaged(folder, f"{key_place(first['loc'])}: {first['msg'].lower()}") from None
    if len({decal.name for decal in summary.decals}) < len(summary.decals):
        raise _damaged(folder, "two decals have one name")
    reach = [_reach(decal) for decal in summary.decals]
    copies = []
    for frame in summary.frames:
        ends = [mark.y_mm + summary.marks.size_mm / 2 for mark in frame.marks]
        for place in frame.placements:
            if place.decal > len(reach):
                raise _damaged(folder, f"frame {frame.index} has a copy of decal {place.decal}")
            decal = summary.decals[place.decal - 1]
            low, high = _along(*reach[place.decal - 1], place.angle_deg, place.mirrored)
            copies.append(
                Copy(
                    decal=decal.name,
                    number=place.copy_,
                    frame=frame.index,
                    low_mm=place.y_mm + low,
                    high_mm=place.y_mm + high,
                    marks_mm=max(ends, default=frame.y0_mm),
                    area_mm2=decal.area_mm2,
                    extra=decal.is_extra(place.copy_),
                )
            )
    return Printed(
        folder=folder,
        said=said,
        job=summary.job,
        plan=summary.plan,
        used_mm=summary.roll.length_used_mm,
        decals=tuple(summary.decals),
        copies=tuple(copies),
        art={**summary.inputs.art, **summary.inputs.rows},
    )


def _reach(decal: PrintedDecal) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 2) of all cuts about the contour's centre, and how far ink goes beyond each."""
    contour = np.concatenate([np.array(ring) for ring in decal.contour])
    backing = [np.array(ring) for ring in decal.backing or []]
    points = np.concatenate([contour, *backing])
    beyond = np.zeros(len(points))
    beyond[: len(contour)] = decal.bleed_mm
    return points, beyond


def _along(
    points: np.ndarray, beyond: np.ndarray, angle_deg: float, mirrored: bool
) -> tuple[float, float]:
    angle = np.radians(angle_deg)
    x = -points[:, 0] if mirrored else points[:, 0]
    y = x * np.sin(angle) + points[:, 1] * np.cos(angle)
    return float((y - beyond).min()), float((y + beyond).max())


def _damaged(folder: Path, why: str) -> Fault:
    return Fault(
        what=f"the summary of the plan cannot be used: {why}",
        where=f"{folder}, summary.json",
        do="nestplan check lists all that is wrong with it; plan the job again",
    )
