"""From measured floats to decimals, and from decimals to cents: the only doors.

A length or a time is measured and comes as a float; a price is written and comes as a
decimal. A float is first rounded to stated places, coarser than any float is wrong, and
is a decimal from there on.
"""

from collections.abc import Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
# ISO 4217, minor units other than 2; from memory
NO_CENTS = frozenset(
    [
        "BIF",
        "CLP",
        "DJF",
        "GNF",
        "ISK",
        "JPY",
        "KMF",
        "KRW",
        "PYG",
        "RWF",
        "UGX",
        "VND",
        "VUV",
        "XAF",
        "XOF",
        "XPF",
    ]
)
THREE_PLACES = frozenset("BHD IQD JOD KWD LYD OMR TND".split())  # noqa: SIM905


def cent_of(currency: str) -> Decimal:
    """The least amount that is paid in a currency: 0.01 of most, 1 of those without cents."""
    if currency in NO_CENTS:
        return Decimal(1)
    return Decimal("0.001") if currency in THREE_PLACES else CENT


def exact(measured: float, places: int) -> Decimal:
    """The float rounded to so many decimal places, as a decimal."""
    return Decimal(f"{measured:.{places}f}")


def in_cents(amount: Decimal, cent: Decimal = CENT) -> Decimal:
    """Rounded to cents, halves away from zero."""
    return amount.quantize(cent, rounding=ROUND_HALF_UP)


def each(amount: Decimal, cent: Decimal = CENT) -> Decimal:
    """Rounded to hundredths of a cent, halves away from zero: small decals cost less than one."""
    return amount.quantize(cent / 100, rounding=ROUND_HALF_UP)


def apportioned(
    total: Decimal, weights: Sequence[Decimal], cent: Decimal = CENT
) -> tuple[Decimal, ...]:
    """An amount in whole cents divided by weights, in cents that add up to it.

    Everybody gets the whole cents of his share; the cents left over go to those whose shares
    were cut the most, of equals to the first. All alike where every weight is 0. A negative
    amount is divided like its opposite. source: the method of largest remainders (Hamilton
    1792, from memory); no share is a cent or more from its exact value.
    """
    assert total == in_cents(total, cent), "what is divided is whole cents"
    assert weights and min(weights) >= 0, "somebody must bear it, and nobody less than nothing"
    if total < 0:
        return tuple(-part for part in apportioned(-total, weights, cent))
    parts = weights if sum(weights) > 0 else [Decimal(1)] * len(weights)
    whole = sum(parts, Decimal(0))
    shares = [total * part / whole for part in parts]
    given = [share.quantize(cent, rounding=ROUND_FLOOR) for share in shares]
    left = int((total - sum(given, Decimal(0))) / cent)
    cut_most = sorted(range(len(parts)), key=lambda k: (given[k] - shares[k], k))
    for k in cut_most[:left]:
        given[k] += cent
    return tuple(given)
