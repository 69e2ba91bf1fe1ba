"""A plan as far as its times go, read from its summary alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.clock import CutProfile, PrintProfile
from nestplan.faults import Fault, key_place
from nestplan.job import Setup, ShopFile, stages_of

SUMMARY = "summary.json"
BYTES_MOST = 200_000_000
DO = "name the folder that `nestplan plan` wrote with --out"

Some = Annotated[float, Field(ge=0, le=1e12, allow_inf_nan=False)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


class _PrintTiming(_Part):
    warm_ups: Some
    turns: Some
    way_mm: Some


class _CutTiming(_Part):
    winds: Some
    marks: Some
    lifts: Some
    tool_changes: Some
    windows: Some
    ratio: Annotated[list[Annotated[float, Field(gt=0, le=1e9)]], Field(min_length=4)]
    way_mm: Annotated[list[Annotated[float, Field(gt=0, le=1e12)]], Field(min_length=4)]


class _Print(_Part):
    mode: str
    timing: _PrintTiming


class _Cut(_Part):
    timing: _CutTiming


class _Roll(_Part):
    length_used_mm: Some


class _Job(_Part):
    setup: str
    laminate: str | None = None


class _Inputs(_Part):
    job: _Job


class _Summary(_Part):
    schema_: Annotated[int, Field(alias="schema", ge=1, le=1)]
    inputs: _Inputs
    roll: _Roll
    print_: Annotated[_Print, Field(alias="print")]
    cut: _Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedRun:
    """A run and the setup that does it. machines: by what they do. mode: the print mode's name."""

    name: str
    setup: Setup
    machines: Mapping[str, str]
    mode: str
    printing: PrintProfile
    cutting: CutProfile
    film_mm: float
    laminated: bool


def read_run(folder: Path, named: str, shop: ShopFile, where: str) -> TimedRun:
    """The plan in a folder. where: the line that names it. raises: Fault."""
    try:
        file = folder / SUMMARY
        if file.stat().st_size > BYTES_MOST:
            raise Fault(what=f"{named}: its summary is far too large", where=where, do=DO)
        said = _Summary.model_validate_json(file.read_bytes())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Fault(what=f"{named} holds no plan: {reason}", where=where, do=DO) from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        at = key_place(first["loc"]) or "the file"
        raise Fault(
            what=f"{named} is no plan of this version: {at}: {first['msg'].lower()}",
            where=where,
            do="plan the job again",
        ) from None
    setup = next((each for each in shop.setup if each.name == said.inputs.job.setup), None)
    if setup is None:
        raise Fault(
            what=f"{named} was planned for the setup {said.inputs.job.setup!r}, which the shop "
            "does not have",
            where=where,
            do="name a plan of this shop",
        )
    cut, printed = said.cut.timing, said.print_.timing
    if len(cut.ratio) != len(cut.way_mm) or sorted(set(cut.ratio)) != cut.ratio:
        raise Fault(what=f"{named}: its summary is damaged at cut.timing", where=where, do=DO)
    laminated = said.inputs.job.laminate is not None
    stages = stages_of(shop, setup, laminated=laminated)
    return TimedRun(
        name=named,
        setup=setup,
        machines={does: machine.name for does, machine, _ in stages},
        mode=said.print_.mode,
        printing=PrintProfile(**printed.model_dump()),
        cutting=CutProfile(
            **{**cut.model_dump(), "ratio": tuple(cut.ratio), "way_mm": tuple(cut.way_mm)}
        ),
        film_mm=said.roll.length_used_mm,
        laminated=laminated,
    )
