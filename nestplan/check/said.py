"""What the summary says, read as a stranger reads it: by the contract's keys alone.

Keys that later versions add are passed over. Figures are bounded, so that a damaged
digit cannot ask for a picture of a thousand kilometres.
"""

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.check.findings import Finding, Kind
from nestplan.faults import Fault, key_place

SCHEMA = 1
SUMMARY = "summary.json"
LONGEST_MM = 1e7  # ten kilometres: no roll is as long
COPIES_MOST = 1_000_000
WHITE_CHOKE_MM = 0.2  # where the job says none
LEAST_DPI = 150.0  # where the shop names no other
TAB_MM = 0.6  # what tabs without a width get
GUTTER_MM = 3.0  # what a job that names no gutter gets

Mm = Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM, allow_inf_nan=False)]
SizeMm = Annotated[float, Field(ge=0, le=LONGEST_MM, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=10_000_000)]
Number = Annotated[int, Field(ge=1, le=10_000_000)]
SpreadMm = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=-100, le=100, allow_inf_nan=False)]
Ring = Annotated[list[tuple[Mm, Mm]], Field(min_length=3)]


class Part(BaseModel):
    """A part of the summary; unknown keys are for others."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class SaidRoll(Part):
    """The film."""

    name: str
    width_mm: SizeMm
    length_used_mm: SizeMm
    area_used_m2: Finite


class SaidRemnant(Part):
    """The film that the run starts on, in run coordinates; beyond its end the film is whole."""

    end_mm: SizeMm
    outline: Annotated[list[Ring], Field(min_length=1)]


class SaidArtFault(Part):
    """Something wrong with a decal's art, and where on the decal."""

    kind: str
    level: Literal["stop", "look", "know"]
    x_mm: Mm
    y_mm: Mm
    size_mm: SizeMm
    where: str
    text: str


class SaidWhite(Part):
    """White ink of a decal's copy."""

    order: Literal["under", "over", "between"]
    choke_mm: SizeMm
    area_mm2: SizeMm


class SaidDecal(Part):
    """A design; its number is its place in the list, from 1."""

    name: str
    ordered: Count
    planned: Count
    overs: Count = 0
    width_mm: SizeMm
    height_mm: SizeMm
    area_mm2: Finite
    cut: Literal["kiss", "through"]
    bleed_mm: SizeMm
    contour: Annotated[list[Ring], Field(min_length=1)]
    faults: list[SaidArtFault]
    picture_dpi: Annotated[float, Field(gt=0, le=1e6)] | None
    rows: list[dict[str, str]] = []
    numbers: Annotated[list[Number], Field(min_length=1)] | None = None
    recipient: Annotated[str | None, Field(alias="for")] = None
    backing: Annotated[list[Ring], Field(min_length=1)] | None = None
    white: SaidWhite | None = None

    def wanted(self, copies: int) -> set[int]:
        """Numbers of its copies where there are so many: those it names, or all from 1."""
        return set(range(1, copies + 1) if self.numbers is None else self.numbers)


class SaidTried(Part):
    """An engine's answer."""

    engine: str
    length_mm: Mm | None


class SaidCarried(Part):
    """What became of a former plan's copies."""

    copies: Count
    stayed: Count
    moved: Count
    came: Count
    went: Count


class SaidNest(Part):
    """The nest's figures."""

    length_mm: SizeMm
    bound_mm: SizeMm
    bound_reason: str
    engine: str
    tried: list[SaidTried]
    gap_percent: Finite
    copies: Count
    frames: Count
    used_percent: Finite
    waste_percent: Finite
    from_plan: SaidCarried | None = None


class SaidMark(Part):
    """A mark of a frame."""

    mark: Number
    x_mm: Mm
    y_mm: Mm
    inside: bool = False


class SaidPlacement(Part):
    """A copy of a frame; decal counts from 1."""

    decal: Number
    copy_: Annotated[int, Field(alias="copy", ge=1, le=10_000_000)]
    x_mm: Mm
    y_mm: Mm
    angle_deg: Annotated[float, Field(ge=-1e4, le=1e4, allow_inf_nan=False)]
    mirrored: bool
    row: Number | None = None
    anew: bool = False
    error_p95_mm: SizeMm


class SaidCode(Part):
    """Where a frame's code stands: lower left corner and side, quiet zone counted in."""

    x_mm: Mm
    y_mm: Mm
    side_mm: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class SaidFrame(Part):
    """A length of the run with its own marks."""

    index: Number
    y0_mm: Mm
    length_mm: Annotated[float, Field(gt=0, le=LONGEST_MM, allow_inf_nan=False)]
    marks: list[SaidMark]
    placements: list[SaidPlacement]
    code: SaidCode | None = None


class SaidErrors(Part):
    """The figures of the predicted error; standard deviations are of each axis."""

    corrects: Literal["none", "turn", "similarity", "affine", "strips"]
    print_noise_mm: SpreadMm
    sensor_noise_mm: SpreadMm
    cut_noise_mm: SpreadMm
    distortion_mm: SpreadMm
    distortion_length_mm: Annotated[float, Field(ge=1, le=LONGEST_MM, allow_inf_nan=False)]
    tracking_mm_m: SpreadMm
    along_percent: Share
    across_percent: Share
    along_sd_percent: SpreadMm
    across_sd_percent: SpreadMm
    both_sd_percent: SpreadMm
    skew_mm_m: Share
    skew_sd_mm_m: SpreadMm
    askew_sd_mm_m: SpreadMm
    offset_x_mm: Mm
    offset_y_mm: Mm
    offset_sd_mm: SpreadMm
    calibration_sd_mm: SpreadMm
    calibration_wander_mm: SpreadMm
    calibration_age_days: Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
    chance_draws: Count
    bleed_draws: Count
    chance_limit: Annotated[float, Field(gt=0, lt=1)]


class SaidFrameMarks(Part):
    """How well a frame's marks stand; the figures of a search are not worked out anew."""

    named: bool
    named_from_mm: SizeMm | None
    noise_bound: SizeMm | None = None
    noise_best_percent: SizeMm | None = None
    noise_percent: SizeMm | None = None
    total_percent: SizeMm | None = None
    even_percent: SizeMm | None = None
    marks_moved: Count | None = None
    marks_more: Count | None = None


class SaidMarksPlaced(Part):
    """How well the marks of a run stand."""

    mistaken_chance: Annotated[float, Field(ge=0, le=1)]
    frames: list[SaidFrameMarks]


class SaidMarks(Part):
    """What every mark is, and how well the cut will follow."""

    spacing_mm: SizeMm
    shape: str
    size_mm: SizeMm
    clear_mm: SizeMm
    error_p95_mm: SizeMm
    error_worst_mm: SizeMm
    bleed_least_mm: SizeMm
    chance_outside_bleed: Annotated[float, Field(ge=0, le=1)] | None
    model: SaidErrors
    placement: SaidMarksPlaced | None = None


class SaidTabCount(Part):
    """How many tabs are left."""

    count: Count


class SaidWeedCount(Part):
    """How many weed lines are cut, and how long they are in all."""

    lines: Count
    length_mm: SizeMm


class SaidCut(Part):
    """The knife's figures."""

    contours: Count
    length_mm: SizeMm
    travel_mm: SizeMm
    travel_bound_mm: SizeMm
    time_s: SizeMm
    tabs: SaidTabCount | None = None
    weed: SaidWeedCount | None = None


class SaidPrint(Part):
    """How long the print takes."""

    time_s: SizeMm
    mode: str


class SaidSetup(Part):
    """How long the run takes on a setup."""

    print_s: SizeMm
    handling_s: SizeMm
    lag_s: SizeMm
    cut_s: SizeMm
    one_run_s: SizeMm
    runs_per_shift: Count


class SaidNote(Part):
    """What a person should know."""

    level: Literal["stop", "look", "know"]
    where: str
    text: str


class SaidOrder(Part):
    """A decal as ordered."""

    name: str
    artwork: str = ""
    contour: str = ""
    quantity: Count | None = None
    rows: str | None = None
    recipient: Annotated[str | None, Field(alias="for")] = None
    rotate: Literal["none", "half", "quarter", "free"] = "quarter"
    direction: Literal["leading", "trailing", "left", "right"] = "trailing"
    keep_together: bool = False
    mirrored: bool | None = None
    white: Literal["none", "under", "over", "between"] | None = None
    white_choke_mm: SizeMm | None = None


class SaidTabs(Part):
    """Tabs as the job asks for them."""

    width_mm: SizeMm = TAB_MM


class SaidWeed(Part):
    """Weed lines as the job asks for them."""

    border_mm: SizeMm | None = None


class SaidJob(Part):
    """The job as it was read."""

    roll: str
    gutter_mm: SizeMm = GUTTER_MM
    date: str | None = None
    fill_with: str | None = None
    overs_percent: Annotated[Decimal, Field(ge=0, le=100)] | None = None
    mirrored: bool = False
    white: Literal["none", "under", "over", "between"] = "none"
    white_choke_mm: SizeMm = WHITE_CHOKE_MM
    setup: str = ""
    tabs: SaidTabs | None = None
    weed: SaidWeed | None = None
    decal: list[SaidOrder]


class SaidFilm(Part):
    """A roll of the shop."""

    name: str
    directional: bool = False
    base: Literal["white", "clear", "dark", "mirror"] = "white"
    avoid_m: list[tuple[Finite, Finite]] = []


class SaidMachine(Part):
    """A machine of the shop."""

    name: str
    contours_in_print: bool = True
    least_dpi: Annotated[float, Field(gt=0, le=1e6)] = LEAST_DPI
    overcut_mm: SizeMm = 0.0


class SaidStage(Part):
    """A step of a setup."""

    machine: str


class SaidWay(Part):
    """A setup of the shop: the first of its stages prints."""

    name: str
    stages: Annotated[list[SaidStage], Field(min_length=1)]


class SaidShop(Part):
    """The shop as it was read."""

    roll: list[SaidFilm]
    machine: list[SaidMachine] = []
    setup: list[SaidWay] = []


class SaidStock(Part):
    """The piece of the shop's stock that the run is on."""

    piece: str
    avoid_m: list[tuple[Finite, Finite]] = []


class SaidInputs(Part):
    """All that the plan was made from."""

    job_file: str
    job: SaidJob
    stock: SaidStock | None = None
    job_as_read: Annotated[dict[str, Any], Field(validation_alias="job")]
    shop: SaidShop
    art: dict[str, str]
    rows: dict[str, str] = {}


class SaidCost(Part):
    """Money as decimal text."""

    currency: str
    film: str
    ink: str
    labour: str
    machine: str
    total: str
    per_decal: str
    per_decal_by_name: dict[str, str]


class SaidOption(Part):
    """A plan that could be chosen."""

    print_width_mm: SizeMm
    mode: str
    resolution_dpi: SizeMm
    frames: Count
    length_used_mm: SizeMm
    print_s: SizeMm
    cut_s: SizeMm
    one_run_s: SizeMm
    total: Annotated[Decimal, Field(ge=0, le=10**12, allow_inf_nan=False)]


class SaidLeast(Part):
    """What no plan of the job beats."""

    length_used_mm: SizeMm
    one_run_s: SizeMm
    total: Annotated[Decimal, Field(ge=0, le=10**12, allow_inf_nan=False)]


class SaidAim(Part):
    """What the plan takes least of, and what else could be chosen; chosen counts from 1."""

    least: Literal["film", "time", "money"]
    chosen: Number
    plans: Annotated[list[SaidOption], Field(min_length=1, max_length=1000)]
    bounds: SaidLeast


class Said(Part):
    """The whole summary."""

    schema_: Annotated[int, Field(alias="schema")]
    job: str
    plan: str
    version: str
    seed: int
    steps: int
    workers: int
    inputs: SaidInputs
    files: dict[str, str]
    roll: SaidRoll
    page_x0_mm: Mm
    start_on: SaidRemnant | None = None
    decals: Annotated[list[SaidDecal], Field(min_length=1)]
    nest: SaidNest
    frames: Annotated[list[SaidFrame], Field(min_length=1)]
    marks: SaidMarks
    cut: SaidCut
    print: SaidPrint
    setups: dict[str, SaidSetup]
    cost: SaidCost
    aim: SaidAim | None = None
    notes: list[SaidNote]

    def name(self, decal: int) -> str:
        """What the shop calls a decal (from 1); its number too where names repeat."""
        names = [each.name for each in self.decals]
        if not 1 <= decal <= len(names):
            return f"decal {decal}"
        name = names[decal - 1]
        return f"{name} (decal {decal})" if names.count(name) > 1 else name

    def film(self) -> SaidFilm:
        """The roll that the job names, as the shop has it; spoiled as its stock says, if any."""
        named = (roll for roll in self.inputs.shop.roll if roll.name == self.inputs.job.roll)
        film = next(named, SaidFilm(name=self.inputs.job.roll))
        stock = self.inputs.stock
        return film if stock is None else film.model_copy(update={"avoid_m": stock.avoid_m})

    def printer(self) -> SaidMachine:
        """The machine that prints in the job's setup, as the shop has it."""
        return self._machine(0)

    def cutter(self) -> SaidMachine:
        """The machine that cuts in the job's setup, as the shop has it."""
        return self._machine(-1)

    def _machine(self, stage: int) -> SaidMachine:
        ways = [way for way in self.inputs.shop.setup if way.name == self.inputs.job.setup]
        named = ways[0].stages[stage].machine if ways else ""
        known = (each for each in self.inputs.shop.machine if each.name == named)
        return next(known, SaidMachine(name=named))

    def absent(self, decal: int) -> list[int]:
        """Copies of a decal (from 1) that are wanted and lie in no frame."""
        said = self.decals[decal - 1]
        ordered = [order.quantity or 0 for order in self.inputs.job.decal[decal - 1 : decal]]
        wanted = min(max(said.ordered, said.planned, len(said.rows), *ordered, 0), COPIES_MOST)
        places = (place for frame in self.frames for place in frame.placements)
        placed = {place.copy_ for place in places if place.decal == decal}
        return sorted(said.wanted(wanted) - placed)

    def stray_name(self, decal: int | None) -> str:
        """Something of a decal that belongs to no placement: the one absent copy, if it is one."""
        if decal is None:
            return "a picture"
        absent = self.absent(decal)
        return self.copy_name(decal, absent[0]) if len(absent) == 1 else self.name(decal)

    def copy_name(self, decal: int, copy: int) -> str:
        """A copy as findings call it."""
        return f"{self.name(decal)}, copy {copy}"


def read_said(data: bytes, where: str) -> tuple[Said | None, list[Finding]]:
    """The summary, or what is wrong with it key by key.

    raises: Fault where it is no summary at all, or one of a later schema.
    """
    try:
        raw: Any = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise Fault(
            what="the summary cannot be read",
            where=f"{where}: {error}",
            do="plan the job again",
        ) from error
    schema = raw.get("schema") if isinstance(raw, dict) else None
    if isinstance(schema, int) and schema > SCHEMA:
        raise Fault(
            what=f"the summary has schema {schema}, this check knows {SCHEMA}",
            where=where,
            do="check it with the version of nestplan that planned it",
        )
    try:
        said = Said.model_validate(raw)
    except ValidationError as error:
        return None, [
            _wrong(raw, each["loc"], each["msg"], each["input"]) for each in error.errors()
        ]
    against = list(_impossible(said))
    return (None if against else said), against


def _wrong(raw: object, path: Sequence[int | str], message: str, value: object) -> Finding:
    found = "nothing" if message == "Field required" else _short(value)
    return Finding(
        kind=Kind.SUMMARY_WRONG,
        where=f"{SUMMARY}: {_place(raw, path) or 'the whole'}",
        found=found,
        meant=message.lower(),
    )


def _place(raw: object, path: Sequence[int | str]) -> str:
    """Where keys lead, rows from 1, with what people call it: decals 2 (gull), bleed_mm."""
    for end in range(len(path), 1, -1):
        name = _called(raw, path[:end]) if isinstance(path[end - 1], int) else None
        if name is not None:
            rest = key_place(path[end:])
            return f"{key_place(path[:end])} ({name}){', ' if rest else ''}{rest}"
    return key_place(path)


def _called(raw: object, path: Sequence[int | str]) -> str | None:
    """The decal or the copy that a row of the summary is about, as far as it says so."""
    top: Any = raw
    row: Any = raw
    try:
        for key in path:
            row = row[key]
        if path[-2] == "placements":
            return f"{top['decals'][int(row['decal']) - 1]['name']}, copy {int(row['copy'])}"
        return str(row["name"]) if path[-2] in ("decals", "decal", "roll", "machine") else None
    except (LookupError, TypeError, ValueError):
        return None


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _impossible(said: Said) -> list[Finding]:
    """What is well formed, one key by one, and yet cannot be."""
    against = []

    def wrong(where: str, found: str, meant: str) -> None:
        against.append(
            Finding(kind=Kind.SUMMARY_WRONG, where=f"{SUMMARY}: {where}", found=found, meant=meant)
        )

    if said.schema_ != SCHEMA:
        wrong("schema", str(said.schema_), str(SCHEMA))
    indexes = [frame.index for frame in said.frames]
    if indexes != list(range(1, len(indexes) + 1)):
        wrong("frames", f"numbers {_short(indexes)}", f"1 to {len(indexes)}")
    seen: set[tuple[int, int]] = set()
    for frame in said.frames:
        for place in frame.placements:
            key = place.decal, place.copy_
            if place.decal > len(said.decals):
                wrong(f"frames, frame {frame.index}", f"decal {key[0]}", "a decal of the list")
            elif key in seen:
                wrong(f"frames, frame {frame.index}", said.copy_name(*key), "every copy once")
            seen.add(key)
        numbers = [mark.mark for mark in frame.marks]
        if len(set(numbers)) < len(numbers):
            wrong(f"frames, frame {frame.index}", f"marks {_short(numbers)}", "every mark once")
    return against
