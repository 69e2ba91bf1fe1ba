"""The shape of a shop's rates: what ink, hands and machines cost, and how a price is made of it.

Every amount of money and every share of it is decimal, as written.
"""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from nestplan.job.values import (
    Currency,
    MarginMm,
    Money,
    Number,
    Part,
    PartBelow,
    RollM,
    Seconds,
    Strict,
    Whole,
)

Channel = Literal["cyan", "magenta", "yellow", "black"]
COPIES_MOST = 10_000_000


class Discount(Strict):
    """What is taken off from so many copies on."""

    model_config = ConfigDict(title="discount")

    copies: Annotated[Whole, Field(ge=1, le=COPIES_MOST, description="from so many on, all decals")]
    percent: Annotated[Part, Field(description="taken off the price, before tax")]


class Cost(Strict):
    """Rates."""

    model_config = ConfigDict(title="cost")

    currency: Annotated[Currency, Field(description="ISO 4217 code; its cents are what is paid in")]
    # ink
    ink_per_ml: Annotated[Money, Field(description="price of a millilitre of ink")]
    ink_ml_per_m2: Annotated[
        Money, Field(description="one ink laid over a whole square metre, at full coverage")
    ]
    ink_per_ml_of: Annotated[
        dict[Channel, Money],
        Field(description="price of a millilitre by ink, where one has its own: cyan, magenta …"),
    ] = {}
    white_per_ml: Annotated[
        Money | None,
        Field(description="price of a millilitre of white ink; absent: that of other ink"),
    ] = None
    white_ml_per_m2: Annotated[
        Money | None,
        Field(description="white ink of a square metre of white; absent: as other ink"),
    ] = None
    ink_lost_percent: Annotated[
        Part, Field(description="ink that cleaning takes, of what is printed")
    ] = Decimal(0)
    # hands and machines
    labour_per_h: Annotated[Money, Field(description="an hour of a person's hands")]
    machine_per_h: Annotated[
        Money, Field(description="an hour of a running machine that has no per_h of its own")
    ] = Decimal(0)
    set_up_s: Annotated[Seconds, Field(description="hands-on time once a job")] = 0.0
    weeding_s_per_m: Annotated[Seconds, Field(description="weeding time per m of contour")] = 0.0
    weeding_s_per_turn: Annotated[
        Seconds,
        Field(
            description="weeding time for detail: for every whole turn that the contours make; a "
            "round or any convex ring makes 1, a star or a letter more, each hole 1 more"
        ),
    ] = 0.0
    masking_s_per_copy: Annotated[
        Seconds, Field(description="masked jobs: transfer tape on one copy")
    ] = 0.0
    masking_s_per_m2: Annotated[
        Seconds, Field(description="masked jobs: the same, for each m² of tape")
    ] = 0.0
    packing_s_per_copy: Annotated[Seconds, Field(description="count and pack one copy")] = 0.0
    packing_s_per_parcel: Annotated[
        Seconds, Field(description="a parcel for each recipient; one where none is named")
    ] = 0.0
    # other material
    tape_per_m2: Annotated[
        Money | None, Field(description="transfer tape; needed where a job is masked")
    ] = None
    tape_beyond_mm: Annotated[
        MarginMm, Field(description="tape reaches so far beyond a decal on every side")
    ] = 5.0
    parcel: Annotated[Money, Field(description="what is used to pack a parcel")] = Decimal(0)
    # spoilage
    spoiled_copy_percent: Annotated[
        Part, Field(description="copies that are spoiled one by one: weeding, specks, handling")
    ] = Decimal(0)
    spoiled_frame_percent: Annotated[
        Part, Field(description="frames that are spoiled whole: a mark misread, film askew")
    ] = Decimal(0)
    spoiled_run_percent: Annotated[
        Part, Field(description="runs that fail whole: a head goes out, film runs askew")
    ] = Decimal(0)
    certainty_percent: Annotated[
        PartBelow,
        Field(description="how sure it must be that enough good copies of all come out of a run"),
    ] = Decimal(95)
    # from cost to price
    margin_percent: Annotated[
        PartBelow,
        Field(description="of the price before discount and tax; cost is what is left of it"),
    ] = Decimal(0)
    discount: Annotated[
        list[Discount],
        Field(max_length=100, description="by copies in all; the last that is reached counts"),
    ] = []
    tax_percent: Annotated[Part, Field(description="added to the price after discount")] = Decimal(
        0
    )
    # what is left on a roll
    remnant_below_m: Annotated[
        RollM, Field(description="a roll with less film than this is a remnant")
    ] = 10.0
    remnant_least_m: Annotated[
        RollM, Field(description="a remnant shorter than this is thrown away")
    ] = 1.0
    remnant_worth_percent: Annotated[
        Part, Field(description="what film of a remnant is worth, of its price when new")
    ] = Decimal(50)
    shift_h: Annotated[Number, Field(ge=0.1, le=24, description="length of a shift")] = 8.0
