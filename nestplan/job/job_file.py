"""The shape of a job file: which decals, how many, on what roll, by which setup.

Every key and its meaning stands here once; the JSON Schema in docs/ is made from it.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Cut = Literal["kiss", "through"]
Rotate = Literal["none", "half", "quarter", "free"]

QUANTITY_MOST = 100_000  # a year of one decal; more is a slip of the finger
SIZE_MOST_MM = 50_000.0  # a whole roll; longer decals do not exist

LengthMm = Annotated[float, Field(gt=0, le=SIZE_MOST_MM, allow_inf_nan=False)]
GapMm = Annotated[float, Field(ge=0, le=1_000, allow_inf_nan=False)]


class Strict(BaseModel):
    """Unknown keys are refused; values cannot change once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class DecalOrder(Strict):
    """One design and how many copies of it."""

    name: Annotated[str, Field(min_length=1, max_length=80, description="what the shop calls it")]
    artwork: Annotated[
        str, Field(min_length=1, description="path of the .svg or .png, inside the job's folder")
    ]
    quantity: Annotated[
        int, Field(ge=1, le=QUANTITY_MOST, strict=True, description="copies to deliver")
    ]
    width_mm: Annotated[
        LengthMm | None, Field(description="width of the contour; height follows")
    ] = None
    height_mm: Annotated[
        LengthMm | None, Field(description="height of the contour; width follows")
    ] = None
    cut: Annotated[
        Cut, Field(description="kiss: through the film, not the liner; through: through both")
    ] = "kiss"
    contour: Annotated[
        str,
        Field(
            pattern=r"^(layer:.+|colour:#[0-9a-fA-F]{6}|page|outline|offset:-?\d+(\.\d+)?)$",
            description="layer:NAME, colour:#rrggbb, page, outline (the art's outer edge) "
            "or offset:MM (made from that edge)",
        ),
    ] = "outline"
    bleed_mm: Annotated[GapMm, Field(description="print beyond the contour")] = 2.0
    rotate: Annotated[
        Rotate, Field(description="turns allowed on the film: none, half, quarter, free")
    ] = "quarter"


class JobFile(Strict):
    """A job as written in TOML."""

    name: Annotated[str, Field(min_length=1, max_length=120, description="what the job is called")]
    shop: Annotated[str, Field(min_length=1, description="path of the shop file")]
    roll: Annotated[str, Field(min_length=1, description="name of a [[roll]] of the shop")]
    setup: Annotated[str, Field(min_length=1, description="name of a [[setup]] of the shop")]
    gutter_mm: Annotated[GapMm, Field(description="least distance between two contours")] = 3.0
    decal: Annotated[list[DecalOrder], Field(min_length=1, max_length=1_000)]


def folder_of(job_path: Path) -> Path:
    """The folder artwork must lie in."""
    return job_path.resolve().parent
