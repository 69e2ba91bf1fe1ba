"""A job priced at quantities comes in; a page for the customer, pages for the estimator go out."""

from nestplan.quote.customer_page import refuse_early
from nestplan.quote.dated import day_of, last_day
from nestplan.quote.quote import Quote
from nestplan.quote.quote_files import INSIDE, quote_files
from nestplan.quote.quote_json import inside_json

__all__ = ["INSIDE", "Quote", "day_of", "inside_json", "last_day", "quote_files", "refuse_early"]
