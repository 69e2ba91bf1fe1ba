"""What a job asks of its cut beyond the contours: tabs, weed lines, edges cut once."""

from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.job import Job, Tabs, Weed
from nestplan.marks import web_of

NOWHERE: BaseGeometry = shapely.Polygon()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wishes:
    """Plain contours where nothing is said.

    share_edges: of two edges on one line only one is cut. gutter_mm: least distance of two
    contours. cuttable_mm: across the film, film_mm its own edges. gone: film that is not there.
    """

    share_edges: bool = False
    gutter_mm: float = 0.0
    tabs: Tabs | None = None
    weed: Weed | None = None
    film_mm: tuple[float, float] = (0.0, 0.0)
    cuttable_mm: tuple[float, float] = (0.0, 0.0)
    gone: BaseGeometry = field(default=NOWHERE)

    @property
    def asked(self) -> tuple[bool, Tabs | None, Weed | None]:
        """What jobs must have alike to be cut in one run."""
        return self.share_edges, self.tabs, self.weed


def wishes_of(job: Job, gone: BaseGeometry | None = None) -> Wishes:
    """What the job file says. gone: film that is not there, run coordinates."""
    web = web_of(job)
    return Wishes(
        share_edges=job.order.gutter_mm == 0,
        gutter_mm=job.order.gutter_mm,
        tabs=job.order.tabs,
        weed=job.order.weed,
        film_mm=web.film_mm,
        cuttable_mm=web.cuttable_mm,
        gone=NOWHERE if gone is None else gone,
    )
