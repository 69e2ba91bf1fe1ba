"""What a run costs, in decimals that add up to the cent."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Every figure is rounded to the currency's cent and the parts add up to the total.

    per_decal: total over copies ordered, four decimals. per_decal_by_name: the total
    shared by contour area with bleed, over each decal's copies.
    """

    currency: str
    film: Decimal
    ink: Decimal
    labour: Decimal
    machine: Decimal
    total: Decimal
    per_decal: Decimal
    per_decal_by_name: tuple[tuple[str, Decimal], ...]
