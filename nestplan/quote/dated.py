"""The day of a quote and the last day on which it holds; no clock is asked."""

from datetime import date, timedelta

from nestplan.faults import Fault
from nestplan.job import Job

OPTION = "--date"


def day_of(job: Job, asked: str | None) -> date:
    """The day asked for, or else the job's. raises: Fault."""
    if asked is not None:
        return _day(asked)
    if job.order.date is None:
        raise Fault(
            what="the quote has no date, and how long it holds counts from that",
            where=f"{job.path}, date",
            do=f'write date = "2027-05-14" in the job, or {OPTION} 2027-05-14',
        )
    return date.fromisoformat(job.order.date)


def last_day(day: date, valid_days: int) -> date:
    """The last day on which the quote holds: so many days on. raises: Fault past the year 9999."""
    try:
        return day + timedelta(days=valid_days)
    except OverflowError:
        raise Fault(
            what=f"{valid_days} days from {day} on lead beyond the year 9999",
            where="the date of the quote",
            do="write an earlier date",
        ) from None


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:  # forms without hyphens, weeks
        raise Fault(
            what=f"{text!r} is not a date",
            where=OPTION,
            do="write year, month and day: 2027-05-14",
        )
    return day
