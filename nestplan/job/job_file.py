"""The shape of a job file: which decals, how many, on what roll, by which setup.

Every key and its meaning stands here once; the JSON Schema in docs/ is made from it.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from nestplan.job.cut_wishes import Tabs, Weed
from nestplan.job.values import (
    AcrossMm,
    FilePath,
    Flag,
    GapMm,
    IsoDate,
    Moment,
    Name,
    Number,
    Part,
    Strict,
    Whole,
)

Cut = Literal["kiss", "through"]
Islands = Literal["keep", "drop", "join"]
MakeBleed = Literal["none", "edge", "mirror"]
Rotate = Literal["none", "half", "quarter", "free"]
Show = Literal["mm", "in"]
Direction = Literal["leading", "trailing", "left", "right"]
White = Literal["none", "under", "over", "between"]
Aim = Literal["film", "time", "money"]

QUANTITY_MOST = 100_000  # a year of one decal; more is a slip of the finger
SIZE_MOST_MM = 50_000.0  # a whole roll; longer decals do not exist
DECALS_MOST = 1_000

MM = r"[0-9]{1,3}(\.[0-9]{1,6})?"
CONTOUR = (
    r"^(layer:\s*\S.*|spot:\s*\S.*|colour:#[0-9a-fA-F]{6}|page|trim|outline"
    rf"|(offset|rectangle|circle|hull):-?{MM}|rounded:-?{MM},{MM})$"
)
BACKING = rf"^((offset|rectangle|circle|hull):{MM}|rounded:{MM},{MM})$"
CONTOUR_WORDS = {
    "layer": "layer takes the name of a layer, an id or a label: layer:outline",
    "colour": "colour takes # and six hexadecimal digits: colour:#e6007e",
    "spot": "spot takes the name of a spot colour of the PDF: spot:Contour",
    "page": "page stands alone",
    "trim": "trim stands alone",
    "outline": "outline stands alone",
    "offset": "offset takes a number of mm from -999 to 999: offset:2.0",
    "rectangle": "rectangle takes a number of mm from the art: rectangle:3",
    "rounded": "rounded takes mm from the art and the radius of its corners: rounded:3,5",
    "circle": "circle takes a number of mm from the art: circle:3",
    "hull": "hull takes a number of mm from the art: hull:3",
}
BACKING_WORDS = {
    "offset": "offset takes a number of mm from 0 to 999, outside the contour: offset:3",
    "rectangle": "rectangle takes a number of mm from the contour: rectangle:3",
    "rounded": "rounded takes mm from the contour and the radius of its corners: rounded:3,5",
    "circle": "circle takes a number of mm from the contour: circle:3",
    "hull": "hull takes a number of mm from the contour: hull:3",
}


def _contour(text: str) -> str:
    """One of the eleven forms; the reason says what this one lacks."""
    return _form(text, CONTOUR, "not one of the eleven forms")


def _backing(text: str) -> str:
    """One of the five forms that lie outside what they go round."""
    no_form = "not one of the five forms, with a distance of 0 or more"
    return _form(text, BACKING, no_form, words=BACKING_WORDS)


def _form(text: str, pattern: str, no_form: str, words: Mapping[str, str] = CONTOUR_WORDS) -> str:
    if re.match(pattern, text) and text.isprintable():
        return text
    word = text.partition(":")[0].strip()
    why = words.get(word, no_form) if word in pattern else no_form
    raise PydanticCustomError("contour_form", "{why}", {"why": why})


LengthMm = Annotated[Number, Field(ge=1, le=SIZE_MOST_MM)]
Contour = Annotated[
    str,
    Field(
        max_length=200,
        json_schema_extra={
            "pattern": CONTOUR,
            "examples": [
                "layer:outline",
                "colour:#e6007e",
                "spot:Contour",
                "page",
                "trim",
                "outline",
                "offset:2.0",
                "rectangle:3",
                "rounded:3,5",
                "circle:3",
                "hull:3",
            ],
        },
    ),
    AfterValidator(_contour),
]
Backing = Annotated[
    str,
    Field(
        max_length=200,
        json_schema_extra={
            "pattern": BACKING,
            "examples": ["offset:3", "rectangle:3", "rounded:3,5", "circle:3", "hull:3"],
        },
    ),
    AfterValidator(_backing),
]
RadiusMm = Annotated[Number, Field(ge=0, le=50)]
SmallMm = Annotated[Number, Field(gt=0, le=100)]


class DecalOrder(Strict):
    """One design and how many copies of it."""

    model_config = ConfigDict(
        title="decal",
        json_schema_extra={
            "if": {"not": {"required": ["rows"]}},
            "then": {"required": ["quantity"]},
        },
    )

    name: Annotated[Name, Field(description="what the shop calls it; no two decals alike")]
    artwork: Annotated[
        FilePath,
        Field(
            description="path of the .svg, .pdf, .png, .jpg, .tif or .webp, inside the job's "
            "folder; of a PDF the first page is planned"
        ),
    ]
    quantity: Annotated[
        Annotated[Whole, Field(ge=1, le=QUANTITY_MOST)] | None,
        Field(description="copies to deliver; may be left out where there are rows"),
    ] = None
    width_mm: Annotated[
        LengthMm | None,
        Field(description="width of the contour, height follows; absent: the artwork's own size"),
    ] = None
    height_mm: Annotated[
        LengthMm | None,
        Field(description="height of the contour, width follows; not together with width_mm"),
    ] = None
    cut: Annotated[
        Cut, Field(description="kiss: through the film, not the liner; through: through both")
    ] = "kiss"
    contour: Annotated[
        Contour,
        Field(
            description="which line is cut: layer:NAME, colour:#rrggbb, spot:NAME (a PDF's spot "
            "colour), page, trim (a PDF's trim box), outline (the art's outer edge), offset:MM "
            "(made from that edge; below 0 inside it), or a form so many mm round the art: "
            "rectangle:MM, rounded:MM,RADIUS, circle:MM, hull:MM (as a taut thread lies)"
        ),
    ] = "outline"
    least_radius_mm: Annotated[
        RadiusMm,
        Field(
            description="made contours and backings turn no corner tighter than this, inside or "
            "outside, so that the knife can follow"
        ),
    ] = 0.0
    islands: Annotated[
        Islands,
        Field(
            description="separate parts of a made contour: keep; drop those under least_island_mm; "
            "join those no farther apart than join_mm, by bridges"
        ),
    ] = "keep"
    least_island_mm: Annotated[
        SmallMm,
        Field(description="with islands = drop: the largest disc in an island that is kept"),
    ] = 3.0
    join_mm: Annotated[
        SmallMm, Field(description="with islands = join: the widest gap that is bridged")
    ] = 3.0
    least_hole_mm: Annotated[
        Annotated[Number, Field(ge=0, le=1_000)],
        Field(description="holes of a made contour that hold no disc so large are filled"),
    ] = 0.0
    backing: Annotated[
        Backing | None,
        Field(
            description="a through cut round the kiss cut, so many mm outside it: offset:MM, "
            "rectangle:MM, rounded:MM,RADIUS, circle:MM or hull:MM; decals are nested by it"
        ),
    ] = None
    bleed_mm: Annotated[GapMm, Field(description="print beyond the contour")] = 2.0
    make_bleed: Annotated[
        MakeBleed,
        Field(
            description="bleed made where the art ends at the contour: edge carries the colours of "
            "its edge straight out, mirror shows pictures of pixels as in a mirror; none leaves "
            "the art as it is"
        ),
    ] = "none"
    rotate: Annotated[
        Rotate,
        Field(description="turns allowed on the film: none, half, quarter, free (any angle)"),
    ] = "quarter"
    direction: Annotated[
        Direction,
        Field(
            description="edge of the film that the top of the art points to, seen from the printed "
            "side; turns are counted from there, and a copy whose contour allows it lies so"
        ),
    ] = "trailing"
    mirrored: Annotated[
        Flag | None,
        Field(
            description="printed the other way round, to be seen through the film; absent: as the "
            "job says"
        ),
    ] = None
    white: Annotated[
        White | None,
        Field(description="white ink made from the art's shape; absent: as the job says"),
    ] = None
    white_choke_mm: Annotated[
        GapMm | None,
        Field(description="the white ends so far inside the art's edge; absent: as the job says"),
    ] = None
    keep_together: Annotated[
        Flag,
        Field(
            description="all copies lie in one band straight across the film, so that they are "
            "weeded and packed together"
        ),
    ] = False
    rows: Annotated[
        FilePath | None,
        Field(
            description="path of a .csv inside the job's folder, one copy a row: text of the .svg "
            'with data-row="COLUMN" says what the row has in that column; copies are numbered by '
            "row, in the order in which they come along the film"
        ),
    ] = None
    recipient: Annotated[
        Name | None,
        Field(alias="for", description="who gets it: each recipient has a packing slip"),
    ] = None


class JobFile(Strict):
    """A job: which decals, how many, on what roll, by which setup."""

    model_config = ConfigDict(title="job file")

    name: Annotated[Name, Field(description="what the job is called, on the proof and on the film")]
    shop: Annotated[FilePath, Field(description="path of the shop file, from the job's folder")]
    roll: Annotated[Name, Field(description="name of a [[roll]] of the shop")]
    setup: Annotated[Name, Field(description="name of a [[setup]] of the shop")]
    gutter_mm: Annotated[GapMm, Field(description="least distance between two contours")] = 3.0
    aim: Annotated[
        Aim | None,
        Field(
            description="what the plan shall take least of, weighed over narrower prints and the "
            "modes that may be used: film, time (one run, door to door) or money; absent: film, "
            "at the full width, and nothing is weighed"
        ),
    ] = None
    print_width_mm: Annotated[
        AcrossMm | None,
        Field(
            description="the print is no wider than this, from the left end of what the printer "
            "prints; absent: as wide as roll and printer allow"
        ),
    ] = None
    mode: Annotated[
        Name | None,
        Field(description="name of a print mode of the setup's printer; absent: its first one"),
    ] = None
    resolution_least_dpi: Annotated[
        Annotated[Number, Field(ge=10, le=20_000)] | None,
        Field(
            description="any print mode of so many dots an inch or more may be used, the first of "
            "them where nothing is weighed; not together with mode"
        ),
    ] = None
    piece: Annotated[
        Name | None,
        Field(
            description="id of a roll or remnant in the shop's stock, of the film that `roll` "
            "names; left out, the shortest that holds the run"
        ),
    ] = None
    start_on: Annotated[
        FilePath | None,
        Field(
            description="drawing (.svg, in mm) of film that is not whole at its leading end: one "
            "closed outline, holes are used up; the page's lower left corner is the roll's"
        ),
    ] = None
    from_plan: Annotated[
        FilePath | None,
        Field(
            description="folder of a former plan, from the job's folder: copies keep the places "
            "they have there as far as quantities, contours and distances let them"
        ),
    ] = None
    chance_limit: Annotated[
        Annotated[Number, Field(ge=0.000001, le=0.5)],
        Field(
            description="greatest chance that any decal of the run is cut outside its bleed; over "
            "it a note says what would help, and the least bleed is worked out for it"
        ),
    ] = 0.05
    fill_with: Annotated[
        Name | None,
        Field(
            description="name of a [[decal]]; as many extra copies of it as fit lie on the free "
            "film of the last frame, which grows no longer for them"
        ),
    ] = None
    overs_percent: Annotated[
        Part | None,
        Field(
            description="extra copies of every decal against spoilage, in hundredths of those "
            "ordered, rounded up; absent: worked out from what the shop says of spoilage"
        ),
    ] = None
    masked: Annotated[
        Flag, Field(description="transfer tape goes over every decal once it is weeded")
    ] = False
    discount_percent: Annotated[
        Part, Field(description="taken off the price of this job, beside the shop's own discounts")
    ] = Decimal(0)
    customer: Annotated[Name | None, Field(description="whom a quote is for")] = None
    laminate: Annotated[
        Name | None,
        Field(description="name of a [[roll]] that goes over the print before it is cut"),
    ] = None
    due: Annotated[
        Moment | None,
        Field(
            description="when it must be done: hours and minutes of the day it is planned for, or "
            "with the date in front"
        ),
    ] = None
    date: Annotated[
        IsoDate | None,
        Field(
            description="day that print, proof, run card, slips and a quote are dated; no clock is "
            "asked"
        ),
    ] = None
    show: Annotated[
        Show,
        Field(description="in: proof, run card and slips say inches beside millimetres"),
    ] = "mm"
    mirrored: Annotated[
        Flag,
        Field(description="reverse print: decals are printed to be seen through the film"),
    ] = False
    white: Annotated[
        White,
        Field(
            description="white ink made from the art's shape: under the art (seen from the printed "
            "side), over it (seen through the film), or between two prints of it (seen from both)"
        ),
    ] = "none"
    white_choke_mm: Annotated[
        GapMm,
        Field(description="white ends so far inside the art's edge, so that none shows beside it"),
    ] = 0.2
    tabs: Annotated[
        Tabs | None,
        Field(
            description="bridges left in through cuts, on nearly straight stretches, off marks and "
            "the film's edges"
        ),
    ] = None
    weed: Annotated[
        Weed | None,
        Field(description="weed lines: kiss cuts through the waste, after the decals"),
    ] = None
    long_pages: Annotated[
        Flag,
        Field(
            description="pages of print.pdf may be longer than 5080 mm, in larger user units, "
            "which some readers ignore; left out, frames are divided so that none is"
        ),
    ] = False
    decal: Annotated[
        list[DecalOrder],
        Field(min_length=1, max_length=DECALS_MOST, description="the decals of the run"),
    ]
