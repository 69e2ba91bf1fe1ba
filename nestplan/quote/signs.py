"""Whether all that the customer reads can be set in the page's typeface, from left to right."""

import unicodedata
from collections.abc import Iterator

from nestplan.faults import Fault, raise_all
from nestplan.files.fonts import has_sign
from nestplan.files.one_line import one_line
from nestplan.job import Job, QuoteTerms
from nestplan.quote.quote import film_of

LEFTWARD = ("R", "AL")  # Unicode bidirectional classes: Hebrew, Arabic and the like
SHOWN_MOST = 8


def refuse_signs(job: Job, terms: QuoteTerms) -> None:
    """raises: Fault or Faults where a sign would be an empty box, or words run the wrong way.

    Fonts must be registered.
    """
    raise_all([fault for where, text in _texts(job, terms) for fault in _faults(where, text)])


def _texts(job: Job, terms: QuoteTerms) -> Iterator[tuple[str, str]]:
    order, shop = str(job.path), str(job.shop_path)
    yield f"{shop}, [quote], name", terms.name
    for k, line in enumerate(terms.address, start=1):
        yield f"{shop}, [quote], address {k}", line
    for k, term in enumerate(terms.terms, start=1):
        yield f"{shop}, [quote], terms {k}", term
    yield f"{order}, name", job.order.name
    yield f"{order}, customer", job.order.customer or ""
    for k, decal in enumerate(job.order.decal, start=1):
        yield f"{order}, [[decal]] {k}, name", decal.name
    yield f"{shop}, [[roll]], name or finish", film_of(job)


def _faults(where: str, text: str) -> Iterator[Fault]:
    signs = list(dict.fromkeys(one_line(text)))
    missing = [sign for sign in signs if not has_sign(sign)]
    leftward = [
        sign
        for sign in signs
        if sign not in missing and unicodedata.bidirectional(sign) in LEFTWARD
    ]
    do = "write it in letters of the Latin, Greek or Cyrillic alphabet"
    if missing:
        yield Fault(
            what=f"the typeface of the quote does not have {_shown(missing)}", where=where, do=do
        )
    if leftward:
        yield Fault(
            what=f"the quote is set from left to right, and {_shown(leftward)} is not",
            where=where,
            do=do,
        )


def _shown(signs: list[str]) -> str:
    more = " and others" if len(signs) > SHOWN_MOST else ""
    return f"{' '.join(signs[:SHOWN_MOST])}{more}"
