"""What a key may hold: numbers with their range, money, names. The ranges are wide enough for
every shop and narrow enough that no later sum overflows.
"""

import math
import unicodedata
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

MONEY_MOST = 10**9  # a whole number: a million digits are never turned into decimals


class Strict(BaseModel):
    """Unknown keys are refused; values cannot change once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _number(value: Any) -> float:
    """A float from what TOML calls integer or float; true, false and text are no numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise PydanticCustomError("number_type", "not a number")
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _amount(value: Any) -> Any:
    """Money as written; never through a float."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise PydanticCustomError("number_type", "not a number")
    if isinstance(value, int) and value > MONEY_MOST:
        return MONEY_MOST + 1
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise PydanticCustomError("bool_type", "not true or false")
    return value


def printable(text: str) -> str:
    """Text that can stand in a line of a proof."""
    if not text.strip():
        raise PydanticCustomError("text_blank", "blank")
    if any(unicodedata.category(sign) in ("Cc", "Cf", "Co", "Cs", "Zl", "Zp") for sign in text):
        raise PydanticCustomError("text_signs", "has signs that do not print")
    return text


def trimmed(text: str) -> str:
    """Text without a space at either end."""
    if text != text.strip():
        raise PydanticCustomError("text_trim", "begins or ends with a space")
    return text


def _iso_date(value: Any) -> str:
    """A day as ISO 8601 writes it, with or without quotes; a time of day is no part of it."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    try:
        day = date.fromisoformat(value)
    except (TypeError, ValueError):
        day = None
    if day is None or day.isoformat() != value:  # forms without hyphens, weeks
        raise PydanticCustomError("date_form", "no date")
    return day.isoformat()


Number = Annotated[float, BeforeValidator(_number), Field(allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Money = Annotated[
    Decimal,
    BeforeValidator(_amount),
    Field(ge=0, le=MONEY_MOST, decimal_places=6, allow_inf_nan=False),
]
Part = Annotated[
    Decimal,
    BeforeValidator(_amount),
    Field(ge=0, le=100, decimal_places=6, allow_inf_nan=False),
]  # a share of money or of copies in hundredths, never a float
PartBelow = Annotated[
    Decimal,
    BeforeValidator(_amount),
    Field(ge=0, le=Decimal("99.9999"), decimal_places=6, allow_inf_nan=False),
]  # less than the whole
Currency = Annotated[str, Field(pattern=r"^[A-Z]{3}$", json_schema_extra={"examples": ["EUR"]})]
Text = Annotated[str, Field(max_length=200)]
Name = Annotated[
    str, Field(min_length=1, max_length=80), AfterValidator(printable), AfterValidator(trimmed)
]
IsoDate = Annotated[
    str,
    BeforeValidator(_iso_date),
    Field(json_schema_extra={"format": "date", "examples": ["2026-06-01"]}),
]
FilePath = Annotated[str, Field(min_length=1, max_length=1_000), AfterValidator(printable)]

Clock = Annotated[
    str,
    Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$", json_schema_extra={"examples": ["08:00"]}),
]
Moment = Annotated[
    str,
    Field(
        pattern=r"^([0-9]{4}-[01][0-9]-[0-3][0-9] )?([01][0-9]|2[0-3]):[0-5][0-9]$",
        json_schema_extra={"examples": ["16:30", "2026-06-12 11:00"]},
    ),
]

GapMm = Annotated[Number, Field(ge=0, le=1_000)]
AcrossMm = Annotated[Number, Field(ge=10, le=10_000)]  # the width of a film, a machine
MarginMm = Annotated[Number, Field(ge=0, le=10_000)]
AlongMm = Annotated[Number, Field(ge=0, le=100_000)]
RollM = Annotated[Number, Field(ge=0.1, le=10_000)]
Seconds = Annotated[Number, Field(ge=0, le=10_000_000)]  # 115 days
Percent = Annotated[Number, Field(ge=-10, le=10)]
SpreadMm = Annotated[Number, Field(ge=0, le=10)]  # a standard deviation
LeftMm = Annotated[Number, Field(ge=-10, le=10)]  # what a machine still has wrong, either way
SpreadPercent = Annotated[Number, Field(ge=0, le=10)]
SpanMm = Annotated[list[MarginMm], Field(min_length=2, max_length=2)]
SpanM = Annotated[
    list[Annotated[Number, Field(ge=0, le=10_000)]], Field(min_length=2, max_length=2)
]
