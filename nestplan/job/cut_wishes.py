"""The shape of what a job asks of its cut beyond the contours: tabs and weed lines."""

from typing import Annotated

from pydantic import ConfigDict, Field

from nestplan.job.values import Number, Strict

WEED_LEAST_MM = 0.5  # nearest that a weed line comes to a contour, whatever the gutter

SpacingMm = Annotated[Number, Field(ge=20, le=100_000)]


class Tabs(Strict):
    """Short bridges that hold what is cut through until it is snapped out."""

    model_config = ConfigDict(title="tabs")

    spacing_mm: Annotated[
        SpacingMm,
        Field(description="about so far apart along each through cut; two a ring at least"),
    ]
    width_mm: Annotated[
        Annotated[Number, Field(ge=0.1, le=10)],
        Field(description="film and liner left uncut at each tab, along the contour"),
    ] = 0.6


class Weed(Strict):
    """Kiss cuts through the waste, so that it is peeled off in pieces."""

    model_config = ConfigDict(title="weed lines")

    along_mm: Annotated[
        SpacingMm | None,
        Field(description="a line across the film about every so many mm along the feed"),
    ] = None
    across_mm: Annotated[
        SpacingMm | None,
        Field(description="a line along the feed about every so many mm across the film"),
    ] = None
    border_mm: Annotated[
        Annotated[Number, Field(ge=0.5, le=500)] | None,
        Field(
            description="a weed border so far round the outermost contours of each frame; weed "
            "lines end at it"
        ),
    ] = None
