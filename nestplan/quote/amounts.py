"""Amounts and shares as both pages write them; the amounts are whole cents already."""

from decimal import Decimal

MINUS = "−"


def amount(value: Decimal) -> str:
    """1263.36, −1.20; as many places as it has."""
    return f"{value:f}".replace("-", MINUS)


def share(percent: Decimal) -> str:
    """19 %, 2.5 %."""
    plain = percent.normalize()
    return f"{plain:f} %"
