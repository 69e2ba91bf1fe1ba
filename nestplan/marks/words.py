"""Where a frame's line of text, its two scale bars and its code stand: blank, outside all clear
zones.
"""

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.offset import grown
from nestplan.job import Sensor
from nestplan.marks.free_box import CELL_MM, GROWN_MM, BlankFilm
from nestplan.marks.ink import Ink
from nestplan.marks.lanes import Lanes
from nestplan.marks.mark_plan import SCALE_BAR_MM, Slug
from nestplan.marks.safe_zone import Web
from nestplan.marks.shapes import blank_round_mm

BAR_MM = 5.0  # height of a scale bar with its label
WORDS_MM = (160.0, 120.0, 90.0)  # a line of text is roomy, readable, just readable
CODE_VERSION, CODE_MODULES, CODE_QUIET = 3, 29, 4  # ISO/IEC 18004: 17 + 4 v; quiet zone of 4
CODE_MM = tuple((CODE_MODULES + 2 * CODE_QUIET) * module for module in (0.6, 0.5, 0.4))
AROUND_MM = 2.0  # blank film beyond the ends of a bar
BAND_ROOM_MM = BAR_MM + 1.0 + 4 * CELL_MM  # a band this high holds bar and words anywhere


def bar_place(lane_left_mm: float, length_mm: float) -> tuple[float, float]:
    """Lower left corner of the room for the bar along the feed in its own lane, midway."""
    return lane_left_mm + 0.25, (length_mm - SCALE_BAR_MM) / 2 - AROUND_MM


def bar_room(corner_mm: tuple[float, float]) -> BaseGeometry:
    """The room that the bar along the feed needs, from its lower left corner."""
    x, y = corner_mm
    return shapely.box(x, y, x + BAR_MM + 1, y + SCALE_BAR_MM + 2 * AROUND_MM)


def slug_rooms(slug: Slug) -> list[BaseGeometry]:
    """The rooms of both bars with their ticks and labels, and of the words."""
    wide, high = SCALE_BAR_MM + 2 * AROUND_MM, BAR_MM + 1
    x, y = slug.across_mm[0] - AROUND_MM, slug.across_mm[1] - 0.5
    across = shapely.box(x, y, x + wide, y + high)
    along = bar_room((slug.along_mm[0] - 0.5, slug.along_mm[1] - AROUND_MM))
    rooms = [across, along, shapely.box(*slug.text_mm)]
    return rooms if slug.code_mm is None else [*rooms, code_room(slug.code_mm)]


def code_room(place_mm: tuple[float, float, float]) -> BaseGeometry:
    """The square of the code with its quiet zone, from (left, bottom, side)."""
    x, y, side = place_mm
    return shapely.box(x, y, x + side, y + side)


def place_words(
    web: Web,
    sensor: Sensor,
    ink: Ink,
    clear: BaseGeometry,
    marks: list[tuple[float, float]],
    length: float,
    kept: tuple[float, float] | None,
) -> Slug | Lanes | None:
    """Places for words and bars; a lane where the long bar has none; None: a longer end helps.

    clear: what is kept blank besides. kept: lower left corner of the room already kept for the
    bar along the feed. The code never makes a frame longer: it has no place where no blank film
    is left for it.
    """
    left, right = web.printable_mm
    field = (left + 1, 0.5, right - 1, length - 0.5)
    blank = shapely.union_all(shapely.buffer(shapely.points(marks), blank_round_mm(sensor)))
    others = [blank, clear]
    larger = [*ink.grown(GROWN_MM), *(grown(each, GROWN_MM) for each in others)]
    film = BlankFilm(field, [*ink.copies(), *others], larger)
    tall, wide = SCALE_BAR_MM + 2 * AROUND_MM, BAR_MM + 1
    along = kept or film.box(width_mm=wide, height_mm=tall, toward_mm=(left, length / 3))
    if along is None:
        return Lanes(bar=True)
    film.take(bar_room(along).bounds)
    across = film.box(width_mm=tall, height_mm=wide, toward_mm=(left + 20, length))
    if across is None:
        return None
    film.take((*across, across[0] + tall, across[1] + wide))
    beside = across[0] + tall + 5, across[1]
    for words in WORDS_MM:
        text = film.box(width_mm=words, height_mm=BAR_MM, toward_mm=beside)
        if text is not None:
            break
    else:
        return None
    film.take((*text, text[0] + words, text[1] + BAR_MM))
    return Slug(
        across_mm=(across[0] + AROUND_MM, across[1] + 0.5),
        along_mm=(along[0] + 0.5, along[1] + AROUND_MM),
        text_mm=(text[0], text[1], text[0] + words, text[1] + BAR_MM),
        code_mm=_code(film, (text[0] + words + 5, text[1])),
    )


def _code(film: BlankFilm, toward_mm: tuple[float, float]) -> tuple[float, float, float] | None:
    """The largest of the codes that has a place, near the words."""
    for side in CODE_MM:
        place = film.box(width_mm=side, height_mm=side, toward_mm=toward_mm)
        if place is not None:
            return *place, side
    return None
