"""From measured floats to decimals, and from decimals to cents: the only doors.

A length or a time is measured and comes as a float; a price is written and comes as a
decimal. A float is first rounded to stated places, coarser than any float is wrong, and
is a decimal from there on.
"""

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
EACH = Decimal("0.0001")  # price of one decal: small decals cost less than a cent


def exact(measured: float, places: int) -> Decimal:
    """The float rounded to so many decimal places, as a decimal."""
    return Decimal(f"{measured:.{places}f}")


def in_cents(amount: Decimal) -> Decimal:
    """Rounded to cents, halves away from zero."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def each(amount: Decimal) -> Decimal:
    """Rounded to hundredths of a cent, halves away from zero."""
    return amount.quantize(EACH, rounding=ROUND_HALF_UP)
