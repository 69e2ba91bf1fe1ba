"""Ink where nothing belongs: what is dark on a page and no decal, mark, bar or word explains."""

from collections.abc import Sequence
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageChops, ImageDraw
from shapely.geometry.base import BaseGeometry

from nestplan.check.findings import Finding, Kind
from nestplan.check.outlines import parts_of
from nestplan.check.pdf_content import Key, moved
from nestplan.check.pdf_pages import PdfPage
from nestplan.check.picture import Box, Window
from nestplan.check.print_claims import page_file
from nestplan.check.said import Said
from nestplan.check.words import place
from nestplan.figures import fixed

DARK = 0.15  # of black: paler is the rim of something that was explained
AROUND_MM = 0.6  # what is explained: antialiasing and the width of lines
AROUND_PX = 2.0  # the same where pixels are large
LEAST_MM2 = 0.5  # a smaller speck is not reported
BAR_MM = 5.0  # a bar's ticks and label


def stray_ink(
    said: Said,
    page: PdfPage,
    window: Window,
    image: Image.Image,
    core: tuple[float, float],
    words: Sequence[Box],
) -> list[Finding]:
    """Ink that nothing explains, in the core of a window. image: the window's, in colour."""
    red, green, blue = image.split()
    darkest = ImageChops.darker(ImageChops.darker(red, green), blue)
    dark = np.asarray(darkest.point([255 * (value < 255 * (1 - DARK)) for value in range(256)]))
    x, y = window.places()
    r, c = np.nonzero((dark > 0) & ~_explained(page, window, words))
    inside = (y[r] >= core[0]) & (y[r] < core[1])
    r, c = r[inside], c[inside]
    found = len(r) / (window.across * window.along)
    if found < LEAST_MM2:
        return []
    frame = said.frames[page.number - 1]
    at = place(float(np.median(x[c])) + said.page_x0_mm, float(np.median(y[r])) + frame.y0_mm)
    return [
        Finding(
            kind=Kind.STRAY_INK,
            where=page_file(page),
            found=f"{fixed(found, 1)} mm² of ink about {at}",
            meant="blank film",
        )
    ]


def _explained(page: PdfPage, window: Window, words: Sequence[Box]) -> NDArray[np.bool_]:
    """Pixels where decals, marks, bars and words are, a little more all round."""
    tall, wide = window.pixels.shape[:2]
    around = max(AROUND_MM, AROUND_PX / window.across)
    mask = Image.new("1", (wide, tall))
    draw = ImageDraw.Draw(mask)
    grown: dict[Key, BaseGeometry] = {}
    shapes: list[BaseGeometry] = []
    low = window.top_mm - tall / window.along
    for placed in page.placed:
        key = placed.picture.form.key
        if key not in grown:
            size = sqrt(abs(float(np.linalg.det(placed.matrix[:2])))) or 1.0
            grown[key] = shapely.buffer(placed.picture.outline, around / size, quad_segs=2)
        if _reaches(placed.centre_mm[1], grown[key], low, window.top_mm):
            shapes.append(moved(grown[key], placed.matrix))
    shapes += [shapely.buffer(shape, around, quad_segs=2) for shape, _ in page.fills]
    shapes += [shapely.box(*box).buffer(around, join_style="mitre") for box in words]
    for bar in page.bars:
        shapes.append(shapely.LineString([bar.start, bar.end]).buffer(BAR_MM, join_style="mitre"))
    parts = [part for shape in shapes for part in parts_of(shape)]
    for part in sorted(parts, key=lambda part: -part.area):
        draw.polygon(_pixels(window, part.exterior), fill=1)
        for hole in part.interiors:
            draw.polygon(_pixels(window, hole), fill=0)
    return np.asarray(mask)


def _reaches(y_mm: float, shape: BaseGeometry, low_mm: float, high_mm: float) -> bool:
    left, bottom, right, top = shape.bounds
    reach = float(np.hypot(right - left, top - bottom)) * 2
    return low_mm - reach <= y_mm <= high_mm + reach


def _pixels(window: Window, ring: shapely.LinearRing) -> list[tuple[float, float]]:
    points = np.asarray(ring.coords)
    columns = (points[:, 0] - window.left_mm) * window.across
    rows = (window.top_mm - points[:, 1]) * window.along
    return list(zip(columns.tolist(), rows.tolist(), strict=True))
