"""Rings, decals, strips and frames small enough to see through."""

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from nestplan.artwork import Decal, Picture
from nestplan.geometry.outline import Outline
from nestplan.marks import Frame, Mark, MarkPlan
from nestplan.nest import Nest, Placements, Strip
from tests.files.handmade import a_run

Spot = tuple[float, float]


def square(x: float, y: float, side: float) -> np.ndarray:
    """An outer ring about (x, y): counter-clockwise from its lower left corner."""
    half = side / 2
    return np.array([x, y]) + [[-half, -half], [half, -half], [half, half], [-half, half]]


def hole(x: float, y: float, side: float) -> np.ndarray:
    """The same as a hole: clockwise."""
    return square(x, y, side)[::-1].copy()


def decal(
    name: str,
    rings: tuple[np.ndarray, ...],
    *,
    cut: str = "kiss",
    bleed_mm: float = 1.0,
    n: int = 1,
) -> Decal:
    """A decal of which only the contour matters."""
    return Decal(
        name=name,
        quantity=n,
        contour=Outline(rings=rings),
        picture=Picture(pdf=b"", box_mm=(0.0, 0.0, 1.0, 1.0)),
        cut=cut,
        bleed_mm=bleed_mm,
        rotate="none",
        source=f"art/{name}.svg",
        digest="",
    )


def frames(
    copies: list[list[tuple[int, Spot]]], marks: list[list[Spot]], *, x0_mm: float = 0.0
) -> tuple[Nest, MarkPlan]:
    """A nest and its marks: per frame the copies (decal, centre in strip coordinates) and marks.

    Frame k begins at y = 1000 k, its strip 10 mm further on. Copies count on over frames.
    """
    run = a_run()
    counted: dict[int, int] = {}
    strips, framed = [], []
    for k, (lying, spots) in enumerate(zip(copies, marks, strict=True)):
        numbers = []
        for which, _ in lying:
            counted[which] = counted.get(which, 0) + 1
            numbers.append(counted[which])
        strips.append(
            Strip(
                placements=Placements(
                    shape=np.array([which for which, _ in lying], dtype=np.intp),
                    centre_mm=np.array([centre for _, centre in lying], dtype=float),
                    angle_deg=np.zeros(len(lying)),
                ),
                copy=tuple(numbers),
                length_mm=800.0,
            )
        )
        framed.append(
            Frame(
                index=k + 1,
                y0_mm=1000.0 * k,
                length_mm=900.0,
                strip_y0_mm=1000.0 * k + 10.0,
                marks=tuple(Mark(number=n, x_mm=x, y_mm=y) for n, (x, y) in enumerate(spots, 1)),
                slug=run.marks.frames[0].slug,
                safe=run.marks.frames[0].safe,
            )
        )
    nest = replace(run.nest, strips=tuple(strips), x0_mm=x0_mm)
    return nest, replace(run.marks, frames=tuple(framed))


# places on a coarse grid, so that equal distances and points on one spot are common
spots = st.integers(2, 40).flatmap(
    lambda n: arrays.arrays(np.float64, (n, 2), elements=st.integers(0, 25).map(float))
)
