"""The shape of a shop file: rolls, machines, setups and rates.

Lengths along the film that are metres in the trade end in `_m`; all else is
millimetres, seconds, degrees. Prices are decimal and never become floats.
"""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from nestplan.job.job_file import Cut
from nestplan.job.quote_terms import QuoteTerms
from nestplan.job.rates import Cost
from nestplan.job.values import (
    AcrossMm,
    AlongMm,
    Clock,
    Currency,
    FilePath,
    Flag,
    LeftMm,
    MarginMm,
    Money,
    Name,
    Number,
    Percent,
    RollM,
    Seconds,
    SpanM,
    SpanMm,
    SpreadMm,
    SpreadPercent,
    Strict,
    Text,
    Whole,
)

Task = Literal["print", "laminate", "cut"]
Use = Literal["print", "laminate"]
Corrects = Literal["none", "turn", "similarity", "affine", "strips"]
MarkShape = Literal["disc", "square", "corner", "cross"]
Edge = Literal["leading", "trailing"]
ArtColour = Literal["any", "cmyk"]
Turning = Literal["either", "clockwise", "anticlockwise"]
Base = Literal["white", "clear", "dark", "mirror"]


class Roll(Strict):
    """A roll of film on the shelf."""

    model_config = ConfigDict(title="roll")

    name: Annotated[Name, Field(description="what the shop calls it; jobs name it so")]
    width_mm: Annotated[AcrossMm, Field(description="width of the film")]
    left_m: Annotated[Number, Field(ge=0, le=10_000, description="film left on the roll")]
    price: Annotated[Money, Field(description="price per unit of `per`")]
    per: Annotated[Literal["m2", "m", "roll"], Field(description="what the price is for")] = "m2"
    length_m: Annotated[
        RollM | None, Field(description='length of a full roll; needed with per = "roll"')
    ] = None
    currency: Annotated[
        Currency | None,
        Field(description="ISO 4217 code of its price; no other than the shop's is taken"),
    ] = None
    use: Annotated[
        Use, Field(description="print: jobs are printed on it; laminate: it goes over a print")
    ] = "print"
    finish: Annotated[Text, Field(description="shown on the proof: gloss, matt, clear …")] = ""
    base: Annotated[
        Base,
        Field(
            description="what the film itself looks like; on clear, dark and mirror film black is "
            "not seen, so marks need white below them"
        ),
    ] = "white"
    profile: Annotated[
        FilePath | None,
        Field(
            description="print: output profile (.icc) of this film, from the shop's folder; it "
            "goes before the machine's"
        ),
    ] = None
    weight_g_m2: Annotated[
        Annotated[Number, Field(ge=1, le=5_000)] | None,
        Field(description="film with adhesive and liner; the proof says what to lift"),
    ] = None
    directional: Annotated[
        Flag, Field(description="the film shows a direction: decals are not turned on it")
    ] = False
    shrink_along_percent: Annotated[
        Percent, Field(description="shrinkage along the feed between print and cut")
    ] = 0.0
    shrink_across_percent: Annotated[
        Percent, Field(description="shrinkage across the web between print and cut")
    ] = 0.0
    shrink_sd_percent: Annotated[
        SpreadPercent,
        Field(description="standard deviation of both shrinkages, from run to run"),
    ] = 0.0
    expansion_ppm_k: Annotated[
        Annotated[Number, Field(ge=0, le=1_000)],
        Field(description="thermal expansion, millionths a kelvin: PVC about 70, PET 17"),
    ] = 0.0
    avoid_m: Annotated[
        list[SpanM],
        Field(description="spoiled stretches [from, to], from the leading edge; no frame on them"),
    ] = []


class PrintMode(Strict):
    """One way of printing: how many passes, how fast."""

    model_config = ConfigDict(title="print mode")

    name: Annotated[Name, Field(description="what the shop calls it")]
    resolution_dpi: Annotated[Number, Field(ge=10, le=20_000, description="dots an inch")]
    passes: Annotated[Whole, Field(ge=1, le=64, description="passes over each place")]
    white_passes: Annotated[
        Whole,
        Field(
            ge=0,
            le=64,
            description="more passes over each place in a run that has white ink",
        ),
    ] = 0
    swath_mm: Annotated[
        Number, Field(ge=0.1, le=5_000, description="height of the printed band of one pass")
    ]
    carriage_mm_s: Annotated[
        Number, Field(ge=1, le=100_000, description="speed of the carriage while it prints")
    ]
    turnaround_s: Annotated[Seconds, Field(description="stop and turn after each stroke")]
    overscan_mm: Annotated[
        MarginMm, Field(description="carriage run-out past the print, on each side")
    ] = 60.0
    directions: Annotated[
        Literal[1, 2], Field(description="1: prints on one stroke of two; 2: on both")
    ] = 2
    warm_up_s: Annotated[Seconds, Field(description="before the first stroke of a run")] = 0.0


class Sensor(Strict):
    """How the cutter finds printed marks."""

    model_config = ConfigDict(title="sensor")

    shape: Annotated[MarkShape, Field(description="printed mark: disc, square, corner, cross")]
    size_mm: Annotated[Number, Field(ge=0.5, le=50, description="greatest width of a mark")]
    clear_mm: Annotated[
        Number, Field(ge=0, le=100, description="blank ring round a mark, from its edge")
    ]
    line_mm: Annotated[
        Number,
        Field(
            ge=0.1,
            le=50,
            description="stroke of a corner or cross mark; discs and squares are solid",
        ),
    ] = 1.0
    reach_left_mm: Annotated[
        MarginMm, Field(description="nearest the left film edge a mark's centre may lie")
    ] = 0.0
    reach_right_mm: Annotated[
        MarginMm, Field(description="nearest the right film edge a mark's centre may lie")
    ] = 0.0
    reads_inside: Annotated[
        Flag,
        Field(
            description="it also reads marks away from the edges: some then stand in pockets "
            "inside, where they lower the error"
        ),
    ] = False
    spacing_mm: Annotated[
        Number,
        Field(
            ge=1,
            le=100_000,
            description="greatest distance along the feed between marks of one edge",
        ),
    ]
    read_s: Annotated[Seconds, Field(description="to read one mark, travel to it apart")]
    repeatability_mm: Annotated[
        Number,
        Field(ge=0, le=10, description="standard deviation of one mark read again and again"),
    ]


class Calibration(Strict):
    """What is known of a machine since it was last calibrated, and how well."""

    model_config = ConfigDict(title="calibration")

    age_days: Annotated[
        Annotated[Number, Field(ge=0, le=10_000)], Field(description="days since the calibration")
    ] = 0.0
    offset_x_mm: Annotated[
        LeftMm,
        Field(
            description="cut: how far to the right of its place the blade still lands; 0 once it "
            "is set on the machine"
        ),
    ] = 0.0
    offset_y_mm: Annotated[
        LeftMm,
        Field(
            description="cut: how far from its place toward the trailing edge the blade still "
            "lands; 0 once it is set on the machine"
        ),
    ] = 0.0
    scale_along_percent: Annotated[
        Percent,
        Field(
            description="cut: how much longer along the feed it still cuts than its setup prints, "
            "the film's own stretch not counted; 0 once it is set on the machine"
        ),
    ] = 0.0
    scale_across_percent: Annotated[Percent, Field(description="cut: the same across the web")] = (
        0.0
    )
    skew_mm_m: Annotated[
        LeftMm,
        Field(
            description="cut: how far to the right of the print it still drifts for a metre toward "
            "the trailing edge; 0 once it is set on the machine"
        ),
    ] = 0.0
    size_along_percent: Annotated[
        Percent,
        Field(
            description="print: how much longer than true it still prints along the feed, by a "
            "tape; decals grow with it, cut and print alike"
        ),
    ] = 0.0
    size_across_percent: Annotated[Percent, Field(description="print: the same across the web")] = (
        0.0
    )
    size_skew_mm_m: Annotated[
        LeftMm,
        Field(description="print: how far to the right it still drifts for a metre, by a tape"),
    ] = 0.0
    offset_sd_mm: Annotated[
        SpreadMm,
        Field(description="cut: standard deviation of the offset from sensor to blade, each axis"),
    ] = 0.0
    offset_wander_mm: Annotated[
        SpreadMm,
        Field(
            description="cut: how far that offset wanders in 30 days, standard deviation; it "
            "grows with the root of the age"
        ),
    ] = 0.0
    scale_along_sd_percent: Annotated[
        SpreadPercent, Field(description="standard deviation of the scale along the feed")
    ] = 0.0
    scale_across_sd_percent: Annotated[
        SpreadPercent, Field(description="standard deviation of the scale across the web")
    ] = 0.0
    skew_sd_mm_m: Annotated[
        SpreadMm,
        Field(description="standard deviation of the skew: mm across for a metre along"),
    ] = 0.0


class Machine(Strict):
    """A printer, a laminator, a cutter, or a device that does several of these."""

    model_config = ConfigDict(title="machine")

    name: Annotated[Name, Field(description="what the shop calls it; setups name it so")]
    does: Annotated[
        list[Task],
        Field(min_length=1, max_length=3, description="what it does: print, laminate, cut"),
    ]
    width_mm: Annotated[AcrossMm, Field(description="widest film it takes")]
    margin_left_mm: Annotated[
        MarginMm, Field(description="left edge of the film that cannot be printed or cut")
    ] = 0.0
    margin_right_mm: Annotated[
        MarginMm, Field(description="right edge of the film that cannot be printed or cut")
    ] = 0.0
    lead_mm: Annotated[AlongMm, Field(description="film before the first frame")] = 0.0
    tail_mm: Annotated[AlongMm, Field(description="film after the last frame")] = 0.0
    per_h: Annotated[
        Money | None,
        Field(description="an hour of this machine while it runs; absent: machine_per_h of [cost]"),
    ] = None
    roll_change_s: Annotated[
        Seconds, Field(description="print, laminate: to take one roll off and put another on")
    ] = 0.0
    loaded: Annotated[
        Name | None, Field(description="print, laminate: the roll on it when a shift begins")
    ] = None
    time_sd_percent: Annotated[
        dict[Task, SpreadPercent],
        Field(
            description="by what it does: how far its times are from these figures, standard "
            "deviation; `learn` writes it"
        ),
    ] = {}
    floor_m2: Annotated[
        Annotated[Number, Field(ge=0, le=10_000)] | None,
        Field(description="floor it takes, with the room to work round it"),
    ] = None
    # laminating
    laminate_mm_s: Annotated[
        Annotated[Number, Field(ge=0.1, le=10_000)] | None,
        Field(description="laminate: speed of the film through it"),
    ] = None
    # printing
    mode: Annotated[
        list[PrintMode], Field(description="print: modes; the first is used where a job names none")
    ] = []
    profile: Annotated[
        FilePath | None,
        Field(
            description="print: its output profile (.icc), from the shop's folder: what "
            "print.pdf is meant for"
        ),
    ] = None
    contours_in_print: Annotated[
        Flag,
        Field(
            description="print: print.pdf also has the contours, in layers that are off; write "
            "false for a device that prints layers though they are off"
        ),
    ] = True
    prints_white: Annotated[Flag, Field(description="print: it has a white ink")] = False
    ink_limit_percent: Annotated[
        Annotated[Number, Field(ge=100, le=400)] | None,
        Field(
            description="print: most process ink in one place, all inks added up; art in process "
            "colours that goes over it is noted. Absent: not looked at"
        ),
    ] = None
    art_colour: Annotated[
        ArtColour,
        Field(description="print: colours that its art must come in; with cmyk, RGB art is noted"),
    ] = "any"
    least_dpi: Annotated[
        Annotated[Number, Field(ge=10, le=2400)],
        Field(
            description="print: pictures of pixels with fewer to an inch at their printed size are "
            "noted; below 150 they show at arm's length (common practice)"
        ),
    ] = 150.0
    placement_noise_mm: Annotated[
        SpreadMm,
        Field(
            description="print: standard deviation of where a mark or a decal lands, one by one, "
            "on each axis"
        ),
    ] = 0.0
    distortion_mm: Annotated[
        SpreadMm,
        Field(
            description="print: smooth random distortion that no straight correction takes up, "
            "standard deviation on each axis"
        ),
    ] = 0.0
    distortion_length_mm: Annotated[
        Annotated[Number, Field(ge=20, le=100_000)],
        Field(
            description="print: its correlation length l: at a distance d the distortions agree "
            "by exp(-d²/(2 l²))"
        ),
    ] = 300.0
    tracking_mm_m: Annotated[
        SpreadMm,
        Field(
            description="print, cut: how far the film wanders sideways over a metre of feed, "
            "standard deviation, now to one side, now to the other"
        ),
    ] = 0.0
    calibration: Annotated[
        Calibration | None, Field(description="how well scales, skew and offset are known")
    ] = None
    # cutting
    speed_mm_s: Annotated[
        Annotated[Number, Field(ge=1, le=100_000)] | None,
        Field(description="cut: greatest speed of the blade"),
    ] = None
    acceleration_mm_s2: Annotated[
        Annotated[Number, Field(ge=1, le=1_000_000)] | None,
        Field(description="cut: acceleration along the path; 1 g is 9807"),
    ] = None
    web_speed_mm_s: Annotated[
        Annotated[Number, Field(ge=1, le=100_000)] | None,
        Field(
            description="cut: greatest speed of the web, where it has one of its own; then "
            "speed_mm_s is the head's"
        ),
    ] = None
    web_acceleration_mm_s2: Annotated[
        Annotated[Number, Field(ge=1, le=1_000_000)] | None,
        Field(
            description="cut: acceleration of the web, where it has one of its own; then "
            "acceleration_mm_s2 is the head's"
        ),
    ] = None
    lift_s: Annotated[Seconds, Field(description="cut: blade up and down again, each time")] = 0.0
    corner_mm: Annotated[
        Number, Field(ge=0.001, le=10, description="cut: a corner may be rounded by this at speed")
    ] = 0.05
    window_mm: Annotated[
        Annotated[Number, Field(ge=10, le=100_000)] | None,
        Field(
            description="cut: film it moves to and fro at once; a longer frame is cut window by "
            "window; absent: a whole frame moves"
        ),
    ] = None
    window_s: Annotated[
        Seconds, Field(description="cut: to wind on to the next window, the way itself apart")
    ] = 0.0
    turning: Annotated[
        Turning,
        Field(
            description="cut: the way round every ring that the knife needs, seen from the "
            "printed side: either, clockwise, anticlockwise"
        ),
    ] = "either"
    overcut_mm: Annotated[
        Annotated[Number, Field(ge=0, le=20)],
        Field(
            description="cut: so far the knife runs on past the start of a closed cut line, drawn "
            "in the cut layers; 0 for a cutter that does so by itself"
        ),
    ] = 0.0
    frame_least_mm: Annotated[AlongMm, Field(description="cut: shortest frame it takes")] = 0.0
    frame_greatest_mm: Annotated[
        Annotated[Number, Field(ge=1, le=100_000)] | None,
        Field(description="cut: longest frame it takes"),
    ] = None
    frame_gap_mm: Annotated[AlongMm, Field(description="cut: film between two frames")] = 0.0
    roller_lanes_mm: Annotated[
        list[SpanMm],
        Field(description="cut: x ranges [from, to] under the rollers; no mark may stand there"),
    ] = []
    corrects: Annotated[
        Corrects, Field(description="cut: what its fit to the marks can take up")
    ] = "similarity"
    cut_noise_mm: Annotated[
        SpreadMm,
        Field(description="cut: standard deviation of where the blade lands, on each axis"),
    ] = 0.0
    askew_mm_m: Annotated[
        SpreadMm,
        Field(
            description="cut: how far askew a sheet is loaded, mm a metre, standard deviation; "
            "it matters where corrects is none"
        ),
    ] = 0.0
    tools: Annotated[
        dict[Cut, Name], Field(description="cut: the tool for each kind of cut, kiss and through")
    ] = {}
    tool_change_s: Annotated[Seconds, Field(description="cut: from one tool to the other")] = 0.0
    wind_back_s: Annotated[
        Seconds, Field(description="cut: from the end of the print to the first mark")
    ] = 0.0
    sensor: Annotated[Sensor | None, Field(description="cut: how it finds the printed marks")] = (
        None
    )


class Stage(Strict):
    """One step of a setup."""

    model_config = ConfigDict(title="stage")

    machine: Annotated[Name, Field(description="name of a [[machine]]")]
    does: Annotated[
        Task | None,
        Field(description="print, laminate or cut; needed where the machine does several"),
    ] = None
    lag_s: Annotated[Seconds, Field(description="wait before this stage: drying, outgassing")] = 0.0
    handling_s: Annotated[Seconds, Field(description="hands-on time: load, carry, unload")] = 0.0


class Setup(Strict):
    """Which machines do the run: print, then laminate (jobs that ask for it only), then cut."""

    model_config = ConfigDict(title="setup")

    name: Annotated[Name, Field(description="what the shop calls it; jobs name it so")]
    stages: Annotated[
        list[Stage],
        Field(
            min_length=1,
            max_length=8,
            description="print, laminate, cut, in this order; without a stage that laminates it "
            "does no laminated jobs",
        ),
    ]
    load_again_s: Annotated[
        Seconds,
        Field(
            description="hands-on time more, where a laminated job leaves a device and is loaded "
            "into it again"
        ),
    ] = 0.0
    enters: Annotated[Edge, Field(description="film edge that reaches the cutter first")] = (
        "leading"
    )
    cut_warmer_k: Annotated[
        Annotated[Number, Field(ge=-100, le=100)],
        Field(description="how much warmer the film is when cut than when printed, kelvin"),
    ] = 0.0
    cut_warmer_sd_k: Annotated[
        Annotated[Number, Field(ge=0, le=100)],
        Field(description="standard deviation of that difference"),
    ] = 0.0


class Staff(Strict):
    """Who works in a shift, and from when."""

    model_config = ConfigDict(title="staff")

    people: Annotated[
        Whole, Field(ge=1, le=1_000, description="people who load, carry and unload")
    ] = 1
    begins: Annotated[Clock, Field(description="when a shift begins, hours and minutes")] = "08:00"


class ShopFile(Strict):
    """A shop: its rolls, machines, setups, rates, and what it says on a quote."""

    model_config = ConfigDict(title="shop file")

    roll: Annotated[
        list[Roll], Field(min_length=1, max_length=1_000, description="rolls on the shelf")
    ]
    machine: Annotated[
        list[Machine], Field(min_length=1, max_length=100, description="printers and cutters")
    ]
    setup: Annotated[
        list[Setup], Field(min_length=1, max_length=100, description="ways to do a run")
    ]
    staff: Annotated[Staff, Field(description="people, and when they begin")] = Staff()
    cost: Annotated[Cost, Field(description="rates")]
    quote: Annotated[
        QuoteTerms | None, Field(description="what stands on every quote; needed for one")
    ] = None
