"""The shape of a shop file: rolls, machines, setups and rates.

Lengths along the film that are metres in the trade end in `_m`; all else is
millimetres, seconds, degrees. Prices are decimal and never become floats.
"""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from nestplan.job.job_file import Strict

Name = Annotated[str, Field(min_length=1, max_length=80)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Money = Annotated[Decimal, Field(ge=0, allow_inf_nan=False)]
Span = Annotated[list[NotNegative], Field(min_length=2, max_length=2)]
Percent = Annotated[float, Field(ge=-10, le=10, allow_inf_nan=False)]
Share = Annotated[Decimal, Field(ge=0, lt=100, allow_inf_nan=False)]

Task = Literal["print", "cut"]
Corrects = Literal["none", "turn", "similarity", "affine", "strips"]
MarkShape = Literal["disc", "square", "corner", "cross"]
Edge = Literal["leading", "trailing"]


class Roll(Strict):
    """A roll of film on the shelf."""

    name: Name
    width_mm: Annotated[Positive, Field(le=10_000, description="width of the film")]
    left_m: Annotated[Positive, Field(le=10_000, description="film left on the roll")]
    price: Annotated[Money, Field(description="price per unit of `per`")]
    per: Annotated[Literal["m2", "m", "roll"], Field(description="what the price is for")] = "m2"
    length_m: Annotated[
        Positive | None, Field(description="length of a full roll; needed with per = roll")
    ] = None
    finish: Annotated[str, Field(description="shown on the proof: gloss, matt, clear …")] = ""
    weight_g_m2: Annotated[
        Positive | None,
        Field(le=5_000, description="film with adhesive and liner; the proof says what to lift"),
    ] = None
    directional: Annotated[
        bool, Field(description="the film shows a direction: decals are not turned on it")
    ] = False
    shrink_along_percent: Annotated[
        Percent, Field(description="shrinkage along the feed between print and cut")
    ] = 0.0
    shrink_across_percent: Annotated[
        Percent, Field(description="shrinkage across the web between print and cut")
    ] = 0.0
    avoid_m: Annotated[
        list[Span], Field(description="spoiled stretches, from the leading edge; no frame on them")
    ] = []


class PrintMode(Strict):
    """One way of printing: how many passes, how fast."""

    name: Name
    resolution_dpi: Positive
    passes: Annotated[int, Field(ge=1, le=64, description="passes over each place")]
    swath_mm: Annotated[Positive, Field(description="height of the printed band of one pass")]
    carriage_mm_s: Positive
    turnaround_s: Annotated[NotNegative, Field(description="stop and turn after each stroke")]
    overscan_mm: Annotated[NotNegative, Field(description="carriage run-out past the print")] = 60.0
    directions: Annotated[Literal[1, 2], Field(description="prints on one stroke or on both")] = 2
    warm_up_s: NotNegative = 0.0


class Sensor(Strict):
    """How the cutter finds printed marks."""

    shape: Annotated[MarkShape, Field(description="printed mark: disc, square, corner, cross")]
    size_mm: Annotated[Positive, Field(le=50, description="greatest width of a mark")]
    clear_mm: Annotated[
        NotNegative, Field(le=100, description="blank ring round a mark, from its edge")
    ]
    line_mm: Annotated[
        Positive, Field(description="stroke of a corner or cross mark; discs and squares are solid")
    ] = 1.0
    reach_left_mm: Annotated[
        NotNegative, Field(description="nearest the left film edge a mark's centre may lie")
    ] = 0.0
    reach_right_mm: Annotated[
        NotNegative, Field(description="nearest the right film edge a mark's centre may lie")
    ] = 0.0
    spacing_mm: Annotated[
        Positive, Field(description="greatest distance along the feed between marks of one edge")
    ]
    read_s: NotNegative
    repeatability_mm: NotNegative


class Machine(Strict):
    """A printer, a cutter, or a device that does both."""

    name: Name
    does: Annotated[list[Task], Field(min_length=1, max_length=2)]
    width_mm: Annotated[Positive, Field(description="widest film it takes")]
    margin_left_mm: Annotated[NotNegative, Field(description="cannot be printed or cut")] = 0.0
    margin_right_mm: Annotated[NotNegative, Field(description="cannot be printed or cut")] = 0.0
    lead_mm: Annotated[NotNegative, Field(description="film before the first frame")] = 0.0
    tail_mm: Annotated[NotNegative, Field(description="film after the last frame")] = 0.0
    # printing
    mode: Annotated[
        list[PrintMode], Field(description="print modes; the first is the one used")
    ] = []
    placement_noise_mm: NotNegative = 0.0
    # cutting
    speed_mm_s: Positive | None = None
    acceleration_mm_s2: Positive | None = None
    lift_s: Annotated[NotNegative, Field(description="knife up and down again, once a contour")] = (
        0.0
    )
    corner_mm: Annotated[
        Positive, Field(description="a corner may be rounded by this much at speed")
    ] = 0.05
    frame_least_mm: NotNegative = 0.0
    frame_greatest_mm: Positive | None = None
    frame_gap_mm: Annotated[NotNegative, Field(description="film between two frames")] = 0.0
    roller_lanes_mm: Annotated[
        list[Span], Field(description="x ranges under the rollers: no mark may stand there")
    ] = []
    corrects: Annotated[Corrects, Field(description="what the cutter's fit can take up")] = (
        "similarity"
    )
    tools: Annotated[
        dict[Literal["kiss", "through"], str], Field(description="tool for each kind of cut")
    ] = {}
    tool_change_s: NotNegative = 0.0
    wind_back_s: Annotated[
        NotNegative, Field(description="from the end of the print to the first mark")
    ] = 0.0
    sensor: Sensor | None = None


class Stage(Strict):
    """One step of a setup."""

    machine: Name
    does: Annotated[Task | None, Field(description="needed where the machine does both")] = None
    lag_s: Annotated[NotNegative, Field(description="wait before this stage (drying)")] = 0.0
    handling_s: Annotated[NotNegative, Field(description="hands-on time: load, carry, unload")] = (
        0.0
    )


class Setup(Strict):
    """Which machines do the run, stage by stage."""

    name: Name
    stages: Annotated[list[Stage], Field(min_length=1, max_length=8)]
    enters: Annotated[Edge, Field(description="film edge that reaches the cutter first")] = (
        "leading"
    )


class Cost(Strict):
    """Rates."""

    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$", description="ISO 4217 code")]
    ink_per_ml: Money
    ink_ml_per_m2: Annotated[
        Money, Field(description="ink of a square metre of printed decal at full coverage")
    ]
    labour_per_h: Money
    machine_per_h: Money = Decimal(0)
    weeding_s_per_m: Annotated[NotNegative, Field(description="weeding time per m of contour")] = (
        0.0
    )
    set_up_s: Annotated[NotNegative, Field(description="hands-on time once a job")] = 0.0
    shift_h: Annotated[Positive, Field(le=24, description="length of a shift")] = 8.0


class ShopFile(Strict):
    """A shop as written in TOML."""

    roll: Annotated[list[Roll], Field(min_length=1)]
    machine: Annotated[list[Machine], Field(min_length=1)]
    setup: Annotated[list[Setup], Field(min_length=1)]
    cost: Cost
