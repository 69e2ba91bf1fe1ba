"""The shape of what a shop says on every quote: who it is, how long a price holds, its terms."""

from typing import Annotated

from pydantic import AfterValidator, ConfigDict, Field

from nestplan.job.values import Name, Strict, Whole, printable, trimmed

DAYS_MOST = 3_650  # ten years; more is a slip of the finger
LINES_MOST = 8
TERMS_MOST = 60
TERM_SIGNS_MOST = 1_000

Term = Annotated[
    str,
    Field(min_length=1, max_length=TERM_SIGNS_MOST),
    AfterValidator(printable),
    AfterValidator(trimmed),
]


class QuoteTerms(Strict):
    """What stands on every quote."""

    model_config = ConfigDict(title="quote")

    name: Annotated[Name, Field(description="the shop's name, as its customers know it")]
    address: Annotated[
        list[Name],
        Field(max_length=LINES_MOST, description="lines under the name: street, town, telephone"),
    ] = []
    valid_days: Annotated[
        Whole,
        Field(
            ge=1,
            le=DAYS_MOST,
            description="a quote holds for so many days; the last is its date and so many on",
        ),
    ]
    terms: Annotated[
        list[Term],
        Field(
            max_length=TERMS_MOST,
            description="terms, a paragraph each; the quote is one page and they must fit on it",
        ),
    ] = []
