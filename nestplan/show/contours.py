"""The forms of a contour that is made round art, and a backing, each on one drawing of the demo.

The lines are those that a plan of such a decal would cut.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely

from nestplan.artwork import Decal, load_artwork
from nestplan.job import DecalOrder, read_job
from nestplan.show.canvas import CUT, GREY, INK, Canvas

ART = "art/compass_star.svg"
ACROSS, STEP_MM = 4, (112.0, 128.0)
WORDS_MM = 8.0
ART_TINT = "#C9DCEB"
FORMS: tuple[dict[str, Any], ...] = (
    {"contour": "outline"},
    {"contour": "offset:4"},
    {"contour": "rectangle:4"},
    {"contour": "rounded:4,12"},
    {"contour": "circle:4"},
    {"contour": "hull:4"},
    {"contour": "outline", "least_radius_mm": 4.0},
    {"contour": "offset:3", "backing": "rounded:5,12"},
)


def forms(demo: Path) -> bytes:
    """Eight forms round the compass star of the regatta, cut lines over the art."""
    (art,) = _decals(demo, [{"contour": "outline"}])
    rows = -(-len(FORMS) // ACROSS)
    canvas = Canvas(STEP_MM[0] * ACROSS, STEP_MM[1] * rows)
    for k, (asked, decal) in enumerate(zip(FORMS, _decals(demo, FORMS), strict=True)):
        x = STEP_MM[0] * (k % ACROSS + 0.5)
        top = STEP_MM[1] * (rows - k // ACROSS)
        y = top - (STEP_MM[1] - 2 * WORDS_MM) / 2
        canvas.area(_at(art.contour.region, x, y), fill=ART_TINT, line=GREY, px=0.8)
        canvas.area(_at(decal.contour.region, x, y), line=CUT, px=2.2)
        if decal.backing is not None:
            canvas.area(_at(decal.backing.region, x, y), line=INK, px=1.8, dash="7 4")
        said = [f"{key} = {_toml(value)}" for key, value in asked.items()]
        for line, words in enumerate(said):
            low = top - STEP_MM[1] + WORDS_MM * (1.6 - 0.7 * line)
            canvas.words(x, low, words, anchor="middle")
    return canvas.png()


def _decals(demo: Path, asked: list[dict[str, Any]] | tuple[dict[str, Any], ...]) -> list[Decal]:
    """Decals as a job with these keys would have them."""
    job = read_job(demo / "regatta" / "regatta.toml")
    orders = [
        DecalOrder(name=f"form {k}", artwork=ART, quantity=1, bleed_mm=0.0, **keys)
        for k, keys in enumerate(asked)
    ]
    order = job.order.model_copy(update={"decal": orders})
    return list(load_artwork(replace(job, order=order)).decals)


def _at(region: shapely.Geometry, x: float, y: float) -> shapely.Geometry:
    return shapely.transform(region, lambda points: points + (x, y))


def _toml(value: str | float) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


DRAWINGS: dict[str, Callable[[Path], bytes]] = {"contour-forms": forms}
