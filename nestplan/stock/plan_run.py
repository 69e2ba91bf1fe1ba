"""A plan as the stock sees it, read from its summary: which film, how long, what it expects."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.faults import Fault, key_place
from nestplan.stock.book import um_of_mm
from nestplan.stock.history import Expected, Stage
from nestplan.stock.runs import PlanRun, Wanted

LONGEST_MM = 1e7

Mm = Annotated[float, Field(ge=0, le=LONGEST_MM, allow_inf_nan=False)]
Seconds = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class _Stock(_Part):
    piece: str
    laminate: str | None = None


class _Job(_Part):
    setup: str


class _Inputs(_Part):
    job: _Job
    stock: _Stock | None = None


class _Roll(_Part):
    name: str
    length_used_mm: Mm


class _Frame(_Part):
    y0_mm: Mm
    length_mm: Mm


class _Times(_Part):
    print_s: Seconds
    cut_s: Seconds
    laminate_s: Seconds = 0.0
    one_run_s: Seconds


class _Summary(_Part):
    job: str
    plan: Annotated[str, Field(pattern=r"^[0-9a-f]{6,64}$")]
    inputs: _Inputs
    roll: _Roll
    frames: Annotated[list[_Frame], Field(min_length=1)]
    setups: dict[str, _Times]


def plan_run_of(summary: Mapping[str, Any], folder: Path) -> PlanRun:
    """From a summary's contents and the folder they lie in. raises: Fault where it is damaged."""
    try:
        said = _Summary.model_validate(summary)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        at = key_place(first["loc"]) or "the file"
        raise Fault(
            what=f"the plan's summary cannot be used: {at}: {first['msg'].lower()}",
            where=str(folder),
            do="plan the job again",
        ) from None
    used = um_of_mm(said.roll.length_used_mm)
    wanted: list[Wanted] = []
    if said.inputs.stock is not None:
        frames = tuple(
            (um_of_mm(each.y0_mm), um_of_mm(each.y0_mm + each.length_mm)) for each in said.frames
        )
        wanted.append(Wanted(piece=said.inputs.stock.piece, length_um=used, frames_um=frames))
        if said.inputs.stock.laminate is not None:
            wanted.append(Wanted(piece=said.inputs.stock.laminate, length_um=used))
    return PlanRun(
        plan=said.plan,
        job=said.job,
        place=place_of(folder),
        wanted=tuple(wanted),
        expected=tuple(_expected(said)),
    )


def place_of(folder: Path) -> str:
    """How a folder is known to the stock."""
    return str(folder.resolve())


def _expected(said: _Summary) -> list[Expected]:
    setup, film = said.inputs.job.setup, said.roll.name
    amounts: dict[Stage, float] = {"film": said.roll.length_used_mm}
    if setup in said.setups:
        times = said.setups[setup]
        amounts |= {
            "print": times.print_s,
            "laminate": times.laminate_s,
            "cut": times.cut_s,
            "run": times.one_run_s,
        }
    return [
        Expected(stage=stage, amount=amount, setup=setup, film=film)
        for stage, amount in amounts.items()
        if amount > 0
    ]
