"""What is wrong with tabs and weed lines whose keys are right: no cut they could belong to, less
room than they need.
"""

from collections.abc import Collection, Iterator
from decimal import Decimal
from typing import Any

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import short
from nestplan.job.cut_wishes import WEED_LEAST_MM, Tabs, Weed
from nestplan.job.draft import Draft
from nestplan.job.job_file import DecalOrder, JobFile
from nestplan.job.shown import either, shown
from nestplan.job.values import Strict

TAB_SHARE = 4.0  # tabs stand at least so many times their width apart


def cut_wish_faults(job: Draft) -> Iterator[Fault]:
    """Faults of `tabs` and `weed` that need no shop to be seen."""
    gutter_mm = job.tables.get("gutter_mm", JobFile.model_fields["gutter_mm"].default)
    if isinstance(gutter_mm, bool) or not isinstance(gutter_mm, int | float | Decimal):
        return
    tabs, weed = _sound(job, "tabs", Tabs), _sound(job, "weed", Weed)
    orders = [row.sound for row in job.rows("decal", DecalOrder) if row.sound is not None]
    all_sound = len(orders) == len(job.rows("decal", DecalOrder))
    if isinstance(tabs, Tabs):
        yield from _tabs(job, tabs, float(gutter_mm), orders, all_sound=all_sound)
    if isinstance(weed, Weed):
        yield from _weed(job, weed, float(gutter_mm), orders, all_sound=all_sound)


def no_weeding_tool(job: Draft, setup: str, have: Collection[str]) -> Iterator[Fault]:
    """Weed lines are cut with the tool of the kiss cut. have: kinds the cutter has tools for."""
    if isinstance(_sound(job, "weed", Weed), Weed) and have and "kiss" not in have:
        yield job.fault(
            f"weed lines are kiss cuts, and the cutter of {shown(setup)} has no tool for those",
            ("weed",),
            f"delete weed, or take a setup whose cutter has more than {either(sorted(have))}",
            OUT_OF_REACH,
        )


def _sound(job: Draft, key: str, model: type[Strict]) -> Strict | None:
    table: Any = job.tables.get(key)
    try:
        return model.model_validate(table) if isinstance(table, dict) else None
    except ValueError:  # the shape of the file says what is wrong
        return None


def _tabs(
    job: Draft, tabs: Tabs, gutter_mm: float, orders: list[DecalOrder], *, all_sound: bool
) -> Iterator[Fault]:
    through = [order for order in orders if order.cut == "through" or order.backing is not None]
    if all_sound and not through:
        yield job.fault(
            "tabs are left in through cuts, and no decal has one",
            ("tabs",),
            'delete tabs, or write cut = "through" or a backing for the decals they hold',
        )
    if gutter_mm == 0 and through:
        yield job.fault(
            "with gutter_mm = 0 pieces may share an edge, and what is a tab of one is cut for the "
            "other",
            ("tabs",),
            "write a gutter_mm of 2 or more, or delete tabs",
        )
    if tabs.spacing_mm < TAB_SHARE * tabs.width_mm:
        yield job.fault(
            f"spacing_mm is {short(tabs.spacing_mm, 2)} and each tab takes "
            f"{short(tabs.width_mm, 2)} mm: little would be cut between them",
            ("tabs", "spacing_mm"),
            f"write {short(TAB_SHARE * tabs.width_mm, 2)} or more, or a smaller width_mm",
        )


def _weed(
    job: Draft, weed: Weed, gutter_mm: float, orders: list[DecalOrder], *, all_sound: bool
) -> Iterator[Fault]:
    if weed == Weed():
        yield job.fault(
            "weed says nothing",
            ("weed",),
            "add along_mm, across_mm or border_mm, or delete weed",
        )
    if all_sound and orders and not any(order.cut == "kiss" for order in orders):
        yield job.fault(
            "weed lines part the waste round kiss cuts, and every decal is cut through",
            ("weed",),
            "delete weed: waste of through cuts comes off with its liner",
        )
    for key in ("along_mm", "across_mm"):
        spacing_mm = getattr(weed, key)
        if spacing_mm is not None and spacing_mm <= gutter_mm:
            yield job.fault(
                f"{key} is {short(spacing_mm, 1)}, no more than gutter_mm, {short(gutter_mm, 1)}",
                ("weed", key),
                "write the size of the pieces of waste that are to be peeled off: 200 to 500 is "
                "usual",
            )
    least_mm = max(gutter_mm / 2, WEED_LEAST_MM)
    if weed.border_mm is not None and weed.border_mm < least_mm:
        yield job.fault(
            f"border_mm is {short(weed.border_mm, 2)}, nearer to the contours than half the gutter",
            ("weed", "border_mm"),
            f"write {short(least_mm, 2)} or more",
        )
