"""A printed plan and what was spoiled of it come in; the copies to print once more go out."""

from nestplan.again.broken import Broken, broken_off
from nestplan.again.copies import again_order, numbers_of, only_again, refuse_changed_art
from nestplan.again.find_job import job_file_of
from nestplan.again.loss import losses
from nestplan.again.printed import Copy, Printed, read_printed
from nestplan.again.spoiled import Spoiled, read_spoiled

__all__ = [
    "Broken",
    "Copy",
    "Printed",
    "Spoiled",
    "again_order",
    "broken_off",
    "job_file_of",
    "losses",
    "numbers_of",
    "only_again",
    "read_printed",
    "read_spoiled",
    "refuse_changed_art",
]
