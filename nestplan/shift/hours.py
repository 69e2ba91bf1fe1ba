"""Times of day as people write them, and seconds from the start of a shift."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from nestplan.faults import Fault
from nestplan.figures import short


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """A shift: its day (None where no date matters), when it begins, how long it is."""

    day: date | None
    begins: time
    hours: float

    @property
    def end_s(self) -> int:
        """Its length, s."""
        return round(self.hours * 3600)

    def seconds(self, text: str, where: str) -> int:
        """Seconds from the start to `HH:MM` or `YYYY-MM-DD HH:MM`; below 0 before it.

        raises: Fault for a date that is none, or a date where the shift has none.
        """
        day, at = _parted(text, where)
        if day is None:
            return _of_day(at) - _of_day(self.begins)
        if self.day is None:
            raise Fault(
                what=f"{text} has a date, the shift has none",
                where=where,
                do="name the shift's day with --day YYYY-MM-DD",
            )
        return (day - self.day).days * 86_400 + _of_day(at) - _of_day(self.begins)

    def clock(self, seconds: float) -> str:
        """14:05, or 01:20 +1 on the next day; seconds are rounded to whole minutes."""
        minutes = int(seconds / 60 + 0.5) + _of_day(self.begins) // 60
        days, minutes = divmod(minutes, 24 * 60)
        text = f"{minutes // 60:02d}:{minutes % 60:02d}"
        return f"{text} +{days}" if days else text

    def moment(self, seconds: int) -> datetime:
        """The moment itself; the shift must have a day."""
        assert self.day is not None, "asked for by a shift with a day"
        return datetime.combine(self.day, self.begins) + timedelta(seconds=seconds)

    @staticmethod
    def from_text(text: str) -> time:
        """A time of day from `HH:MM`, as the shop file has been checked to hold it."""
        return time.fromisoformat(text)

    def words(self) -> str:
        """08:00 to 16:00, 8 h."""
        return f"{self.clock(0)} to {self.clock(self.end_s)}, {short(self.hours)} h"


def day_of(text: str | None) -> date | None:
    """The date of --day. raises: Fault."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Fault(
            what=f"{text!r} is not a date", where="--day", do="write it as 2026-06-12"
        ) from None


def _parted(text: str, where: str) -> tuple[date | None, time]:
    day, _, at = text.rpartition(" ")
    try:
        return (date.fromisoformat(day) if day else None), time.fromisoformat(at)
    except ValueError:
        raise Fault(
            what=f"{text!r} is not a time",
            where=where,
            do="write 16:30, or 2026-06-12 16:30",
        ) from None


def _of_day(at: time) -> int:
    return at.hour * 3600 + at.minute * 60 + at.second
