"""A small job quoted once, and the same quote told otherwise without another nest."""

from dataclasses import replace

from nestplan.cost import account_of, moves_of, price_of
from nestplan.plan_price import Search
from nestplan.plan_quote import quote_job
from tests.small_job import changed, write_small_job

CUSTOMER = "Harbour school, class of the lighthouse"
RATES = """
set_up_s = 300
weeding_s_per_m = 4
machine_per_h = 11
margin_percent = 30
discount = [{ copies = 20, percent = 5 }]
tax_percent = 20

[quote]
name = "Slipway Lane Decals"
address = ["Boathouse 3", "Port Merrow"]
valid_days = 30
terms = ["Ready eight days after the signed proof.", "Half with the order."]
"""
QUICK = 30
QUANTITIES = (6, 12)
DAY = "2028-02-20"


def write_job(folder):
    """The small job, with rates for a price and a table for a quote; the job file's path."""
    job = write_small_job(folder)
    changed(job, 'roll = "white', f'customer = "{CUSTOMER}"\nroll = "white')
    shop = job.parent / "shop.toml"
    shop.write_text(shop.read_text() + RATES)
    return job


def a_quote(job):
    """At two quantities."""
    return quote_job(job, QUANTITIES, DAY, Search(steps=QUICK, fuller=False))


def ordered(quote, **keys):
    """The quote with other keys in its job."""
    order = quote.job.order.model_copy(update=keys)
    return replace(quote, job=replace(quote.job, order=order))


def with_terms(quote, **keys):
    """The quote with other words of the shop."""
    return replace(quote, terms=quote.terms.model_copy(update=keys))


def at(quote, *numbers):
    """The quote with just these of its offers."""
    return replace(quote, offers=tuple(quote.offers[k] for k in numbers))


def priced_anew(quote, many=None, called="", **rates):
    """The quote at other rates, from what its nests took; many: so many decals, two by turns,
    all with a name of that kind."""
    cost = quote.job.shop.cost.model_copy(update=rates)
    shop = quote.job.shop.model_copy(update={"cost": cost})
    offers = []
    for offer in quote.offers:
        old = offer.priced
        kinds = range(2) if many is None else [k % 2 for k in range(many)]
        names = {
            k: f"{called or old.artwork.decals[kind].name} {k}" for k, kind in enumerate(kinds)
        }
        taken = replace(
            old.taken,
            pieces=tuple(
                replace(old.taken.pieces[kind], name=names[k]) for k, kind in enumerate(kinds)
            ),
            ordered=tuple(old.taken.ordered[kind] for kind in kinds),
            planned=tuple(old.taken.planned[kind] for kind in kinds),
        )
        decals = tuple(
            replace(old.artwork.decals[kind], name=names[k]) for k, kind in enumerate(kinds)
        )
        job = replace(old.job, shop=shop)
        priced = replace(
            old,
            job=job,
            artwork=replace(old.artwork, decals=decals),
            taken=taken,
            overs=replace(old.overs, extra=(0,) * len(decals)),
            price=price_of(job, account_of(job, taken)),
        )
        moves = moves_of(job, priced.artwork, taken, 1)
        offers.append(replace(offer, priced=priced, moves=moves))
    return replace(quote, job=replace(quote.job, shop=shop), offers=tuple(offers))
