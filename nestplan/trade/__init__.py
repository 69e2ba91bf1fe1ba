"""Plans of one job that differ in width and mode come in; those worth choosing from go out."""

from nestplan.trade.least import Least, least_of
from nestplan.trade.option import MEASURES, Option, option_of
from nestplan.trade.screen import Screened, narrower, shortlist
from nestplan.trade.weigh import Trade, weigh

__all__ = [
    "MEASURES",
    "Least",
    "Option",
    "Screened",
    "Trade",
    "least_of",
    "narrower",
    "option_of",
    "shortlist",
    "weigh",
]
