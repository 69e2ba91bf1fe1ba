"""What is wrong with the keys of a contour taken together: keys that could have no effect."""

from collections.abc import Iterator
from typing import Any

from nestplan.faults import Fault
from nestplan.job.draft import Draft
from nestplan.job.job_file import DecalOrder
from nestplan.job.shown import shown

DRAWN = ("layer", "colour", "spot", "page", "trim")  # cut as the art has them
ROUND = ("rectangle", "rounded", "circle", "hull")
NEEDS = {"join_mm": "join", "least_island_mm": "drop"}
OF_MADE = ("islands", "least_hole_mm", "least_radius_mm")
OF_EDGE = ("least_hole_mm",)


def contour_faults(job: Draft) -> Iterator[Fault]:
    """Faults of every decal's contour and backing."""
    for row in job.rows("decal", DecalOrder):
        if row.sound is not None:
            yield from _faults(job, row.at, job.tables["decal"][row.at], row.sound)


def _faults(job: Draft, at: int, table: dict[str, Any], order: DecalOrder) -> Iterator[Fault]:
    if order.backing is not None and order.cut != "kiss":
        yield job.fault(
            f"backing is {shown(order.backing)}, but the contour is cut through too",
            ("decal", at, "backing"),
            'write cut = "kiss": a backing goes round a kiss cut',
        )
    for key, needed in NEEDS.items():
        if key in table and order.islands != needed:
            yield job.fault(
                f"{key} is {shown(table[key])}, but islands is {shown(order.islands)}",
                ("decal", at, key),
                f'write islands = "{needed}", or delete {key}',
            )
    word = order.contour.partition(":")[0].strip()
    for key in OF_MADE:
        if key not in table or table[key] in (0, "keep"):
            continue
        if word in DRAWN and not (key == "least_radius_mm" and order.backing is not None):
            yield job.fault(
                f"{key} is {shown(table[key])}, but contour {shown(order.contour)} is cut as the "
                "art has it",
                ("decal", at, key),
                f'delete {key}, or have the contour made: contour = "outline" or "offset:2.0"',
            )
        elif word in ROUND and (key in OF_EDGE or table[key] == "join"):
            yield job.fault(
                f"{key} is {shown(table[key])}, but contour {shown(order.contour)} is one piece "
                "without holes",
                ("decal", at, key),
                f"delete {key}",
            )
