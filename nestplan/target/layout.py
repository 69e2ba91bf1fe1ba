"""Where everything of the target stands: marks as on any frame, stations spread over the web.

Coordinates are those of a run whose only frame begins at y = 0: x from the left edge of the
film, y along the feed from the leading end.
"""

import hashlib
import json
from dataclasses import dataclass
from math import ceil, hypot

import numpy as np
from numpy.typing import NDArray

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.geometry.outline import Outline
from nestplan.job import Equipment
from nestplan.marks import Mark, web_of
from nestplan.marks.film import lead_mm, tail_mm
from nestplan.marks.safe_zone import centre_ranges_mm
from nestplan.marks.shapes import blank_round_mm, mark_outline
from nestplan.target.station import BOX, X_AT, Y_AT

Points = NDArray[np.float64]

LONGEST_MM = 1300.0  # a table's length; a tape lies straight on it
COLUMNS, ROWS = 3, 4
ROW_MM = 250.0  # rows are about so far apart
APART_MM = 4.0  # between two stations
WORDS_MM = 14.0  # at the leading end, for the line of words
UNEVEN_MM = 12.0  # one mark is moved by this much: a sheet put in back to front is noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where print and cut are compared; its middle."""

    number: int
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A distance between the printed crosses of two stations, for a tape measure."""

    start: int
    end: int
    across_mm: float
    along_mm: float

    @property
    def length_mm(self) -> float:
        """As it was meant."""
        return hypot(self.across_mm, self.along_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """A target for one setup and roll.

    outline: one mark about its own centre. page_x0_mm, page_width_mm: the printable width.
    """

    equipment: Equipment
    length_mm: float
    page_x0_mm: float
    page_width_mm: float
    marks: tuple[Mark, ...]
    outline: Outline
    stations: tuple[Station, ...]
    tapes: tuple[Tape, ...]

    @property
    def y0_mm(self) -> float:
        """Where it begins: its places count from its own leading end."""
        return 0.0

    @property
    def marks_mm(self) -> Points:
        """(N, 2) in the order of their numbers."""
        return np.array([(mark.x_mm, mark.y_mm) for mark in self.marks])

    def scales_mm(self, numbers: list[int]) -> Points:
        """(2n, 2): middles of the x scales of these stations, then of their y scales."""
        at = {station.number: (station.x_mm, station.y_mm) for station in self.stations}
        middles = np.array([at[number] for number in numbers]).reshape(-1, 2)
        return np.concatenate([middles + X_AT, middles + Y_AT])

    @property
    def code(self) -> str:
        """Eight letters that only this layout has: readings of another one are refused."""
        places = [[mark.x_mm, mark.y_mm] for mark in self.marks]
        places += [[station.x_mm, station.y_mm] for station in self.stations]
        said = json.dumps([[round(x, 3), round(y, 3)] for x, y in places])
        return hashlib.sha256(said.encode()).hexdigest()[:8]


def make_target(equipment: Equipment) -> Target:
    """The target of a setup on a roll; the same files give the same target.

    raises: Fault where no marks or not even two stations fit, or the roll holds too little film.
    """
    sensor = equipment.cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    web, blank_mm = web_of(equipment), blank_round_mm(sensor)
    ranges = centre_ranges_mm(equipment, web)
    apart_mm = 2 * blank_mm
    if not ranges or ranges[-1][1] - ranges[0][0] < apart_mm + BOX[2] - BOX[0]:
        raise _too_narrow(equipment)
    left_mm, right_mm = ranges[0][0], ranges[-1][1]
    low = max(left_mm + blank_mm, web.printable_mm[0], web.cuttable_mm[0]) - BOX[0]
    high = min(right_mm - blank_mm, web.printable_mm[1], web.cuttable_mm[1]) - BOX[2]
    length_mm = _length_mm(equipment)
    first, last = WORDS_MM - BOX[1], length_mm - APART_MM - BOX[3]
    rows = int(min(ROWS, max(2, ceil((last - first) / ROW_MM))))
    columns = min(COLUMNS, 1 + int((high - low) // (BOX[2] - BOX[0] + APART_MM)))
    x = np.linspace(low, high, columns) if columns > 1 else np.array([(low + high) / 2])
    middles = [(each, y) for y in np.linspace(first, last, rows).tolist() for each in x.tolist()]
    stations = tuple(
        Station(number=number, x_mm=round(each, 3), y_mm=round(y, 3))
        for number, (each, y) in enumerate(middles, 1)
    )
    return Target(
        equipment=equipment,
        length_mm=length_mm,
        page_x0_mm=web.printable_mm[0],
        page_width_mm=web.printable_mm[1] - web.printable_mm[0],
        marks=_marks(equipment, left_mm, right_mm, blank_mm, length_mm),
        outline=mark_outline(sensor),
        stations=stations,
        tapes=_tapes(stations, columns),
    )


def _length_mm(equipment: Equipment) -> float:
    """As long as cutter, film and a table allow. raises: Fault."""
    cutter, roll = equipment.cutter, equipment.roll
    assert cutter.frame_greatest_mm is not None, "the job room refuses a cutter without"
    least = max(cutter.frame_least_mm, WORDS_MM + 2 * (BOX[3] - BOX[1]) + 2 * APART_MM)
    if cutter.frame_greatest_mm < least:
        raise Fault(
            what=f"two rows of stations need {least:.0f} mm, this cutter takes "
            f"{cutter.frame_greatest_mm:g} mm",
            where=f'{equipment.shop_path.name}, [[machine]] "{cutter.name}", frame_greatest_mm',
            do="name a setup whose cutter takes longer frames",
            code=OUT_OF_REACH,
        )
    ends = lead_mm(equipment) + tail_mm(equipment)
    left = roll.left_m * 1000 - ends
    if left < least:
        raise Fault(
            what=f"a target needs {(least + ends) / 1000:.2f} m of film, the roll has "
            f"{roll.left_m:g} m left",
            where=f'{equipment.shop_path.name}, [[roll]] "{roll.name}", left_m',
            do="name another roll with --roll",
            code=OUT_OF_REACH,
        )
    return float(int(min(max(least, LONGEST_MM), cutter.frame_greatest_mm, left)))


def _marks(
    equipment: Equipment, left_mm: float, right_mm: float, blank_mm: float, length_mm: float
) -> tuple[Mark, ...]:
    """Pairs along both edges, no gap over the spacing; numbers as on every frame."""
    sensor = equipment.cutter.sensor
    assert sensor is not None
    first, last = blank_mm, length_mm - blank_mm
    rows = max(2, ceil((last - first) / sensor.spacing_mm - 1e-9) + 1)
    if rows > 2 and (last - first) / (rows - 1) + UNEVEN_MM > sensor.spacing_mm:
        rows += 1
    y = np.linspace(first, last, rows)
    places = [(x, each) for each in y.tolist() for x in (left_mm, right_mm)]
    if rows > 2 and y[1] - y[0] > UNEVEN_MM + 2 * blank_mm:
        places[2] = (left_mm, float(y[1]) - UNEVEN_MM)
    turned = equipment.setup.enters == "trailing"
    places.sort(key=lambda at: (-at[1], -at[0]) if turned else (at[1], at[0]))
    return tuple(
        Mark(number=number, x_mm=round(x, 3), y_mm=round(each, 3))
        for number, (x, each) in enumerate(places, 1)
    )


def _tapes(stations: tuple[Station, ...], columns: int) -> tuple[Tape, ...]:
    """Along both sides, across both ends, and both diagonals of the outermost stations."""
    front, back = stations[:columns], stations[-columns:]
    pairs = [(front[0], back[0])]
    if columns > 1:
        pairs += [(front[-1], back[-1]), (front[0], front[-1]), (back[0], back[-1])]
        pairs += [(front[0], back[-1]), (front[-1], back[0])]
    return tuple(
        Tape(
            start=a.number,
            end=b.number,
            across_mm=round(b.x_mm - a.x_mm, 3),
            along_mm=round(b.y_mm - a.y_mm, 3),
        )
        for a, b in pairs
    )


def _too_narrow(equipment: Equipment) -> Fault:
    return Fault(
        what=f"no station finds room between two marks on {equipment.roll.name!r}",
        where=f'{equipment.shop_path.name}, [[machine]] "{equipment.cutter.name}": margins, sensor '
        f"reach and roller lanes on {equipment.roll.width_mm:g} mm",
        do="name a wider roll with --roll",
        code=OUT_OF_REACH,
    )
