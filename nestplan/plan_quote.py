"""A quote made: the job priced at quantities, and which figures move each price."""

from collections.abc import Sequence
from pathlib import Path

from nestplan import __version__
from nestplan.cost import moves_of
from nestplan.faults import Fault
from nestplan.job import Job, QuoteTerms, read_job
from nestplan.plan_price import Priced, Search, amounts_of, price_read
from nestplan.quote import Quote, day_of, last_day, refuse_early
from nestplan.quote.quote import Offer
from nestplan.stock import carried, read_corrections
from nestplan.stock.words import carried_words


def quote_job(path: Path, quantities: Sequence[int], day: str | None, search: Search) -> Quote:
    """The job at each number of copies a decal, none as ordered. day: None as the job is dated.

    raises: Fault or Faults; what a quote lacks is said before anything is nested.
    """
    job = read_job(path)
    terms = _terms_of(job)
    dated = day_of(job, day)
    holds = last_day(dated, terms.valid_days)
    refuse_early(job, terms, quantities)
    priced = price_read(job, quantities, search)
    return Quote(
        job=job,
        terms=terms,
        day=dated,
        last_day=holds,
        offers=tuple(map(_offer, priced)),
        version=__version__,
        seed=search.seed,
        steps=search.steps,
    )


def _terms_of(job: Job) -> QuoteTerms:
    if job.shop.quote is None:
        raise Fault(
            what="the shop does not say what stands on a quote",
            where=f"{job.shop_path}, [quote]",
            do="add a table [quote] with name, the shop's, and valid_days, how long a quote holds; "
            "address and terms may follow",
        )
    return job.shop.quote


def _offer(each: Priced) -> Offer:
    known = read_corrections(each.job.shop_path, each.job.setup.name)
    return Offer(
        priced=each,
        moves=moves_of(each.job, each.artwork, each.taken, len(each.nest.strips)),
        likely=tuple(line.strip() for line in carried_words(carried(amounts_of(each), known))),
    )
