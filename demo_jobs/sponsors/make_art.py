"""Draws the sponsors' marks: a chandler's shackle, a sailmaker's sails, a boatyard's propeller.

The marks are invented. Each is drawn four times as large, then averaged down to 300 dpi, so
that its edge has soft alpha; a faint shadow lies round it. The same bytes each time:

    python demo_jobs/sponsors/make_art.py
"""

from collections.abc import Callable
from math import cos, pi, sin
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

DPI = 300
LARGER = 4
SCALE = DPI / 25.4 * LARGER  # pixels of the large drawing to a mm
FOLDER = Path(__file__).parent / "art"

NAVY, DEEP = (14, 42, 71), (8, 24, 44)
ORANGE, EMBER = (242, 102, 43), (196, 66, 22)
GREEN, DARK_GREEN = (53, 171, 152), (20, 103, 95)
SAND, SHELL = (239, 220, 180), (252, 246, 232)
WHITE = (255, 255, 255)

Point = tuple[float, float]
Colour = tuple[int, int, int]


class Sheet:
    """A transparent sheet in mm, y down, on which areas are painted one over the other."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        pixels = (round(side * DPI / 25.4) * LARGER for side in (width_mm, height_mm))
        self.size: tuple[int, int] = tuple(pixels)  # type: ignore[assignment]  # two sides
        self.image = Image.new("RGBA", self.size, (*WHITE, 0))

    def mask(self) -> Image.Image:
        """An empty area."""
        return Image.new("L", self.size, 0)

    def area(self, points: list[Point]) -> Image.Image:
        """The inside of a closed line."""
        mask = self.mask()
        ImageDraw.Draw(mask).polygon([(x * SCALE, y * SCALE) for x, y in points], fill=255)
        return mask

    def disc(self, x: float, y: float, radius: float) -> Image.Image:
        """A disc."""
        box = [v * SCALE for v in (x - radius, y - radius, x + radius, y + radius)]
        mask = self.mask()
        ImageDraw.Draw(mask).ellipse(box, fill=255)
        return mask

    def line(self, points: list[Point], width_mm: float) -> Image.Image:
        """A line with round ends and corners."""
        mask = self.mask()
        draw = ImageDraw.Draw(mask)
        flat = [(x * SCALE, y * SCALE) for x, y in points]
        half = width_mm / 2 * SCALE
        draw.line(flat, fill=255, width=round(2 * half))
        for x, y in flat:
            draw.ellipse([x - half, y - half, x + half, y + half], fill=255)
        return mask

    def paint(self, mask: Image.Image, colour: Colour, opacity: float = 1.0) -> None:
        """Paint an area with one colour."""
        box = mask.getbbox() or (0, 0, 1, 1)
        layer = Image.new("RGBA", (box[2] - box[0], box[3] - box[1]), (*colour, 0))
        layer.putalpha(mask.crop(box).point(lambda v: round(v * opacity)))
        self.image.alpha_composite(layer, box[:2])

    def blend(self, mask: Image.Image, ends: tuple[Point, Point], colours: list[Colour]) -> None:
        """Paint an area with colours that run evenly from one point to another."""
        (x0, y0), (x1, y1) = ends
        box = mask.getbbox() or (0, 0, 1, 1)
        x = np.arange(box[0], box[2]) / SCALE - x0
        y = np.arange(box[1], box[3])[:, np.newaxis] / SCALE - y0
        share = (x * (x1 - x0) + y * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        table = np.array([_between(colours, step / 1023) for step in range(1024)], dtype=np.uint8)
        rgb = table[np.clip(np.rint(share * 1023), 0, 1023).astype(np.int64)]
        layer = Image.fromarray(rgb).convert("RGBA")
        layer.putalpha(mask.crop(box))
        self.image.alpha_composite(layer, box[:2])

    def finished(self) -> Image.Image:
        """The mark at its own size over its shadow, which stays under half opaque."""
        small = self.image.reduce(LARGER)
        alpha = small.getchannel("A")
        blurred = alpha.filter(ImageFilter.GaussianBlur(0.45 * DPI / 25.4))
        shadow = Image.new("RGBA", small.size, (*NAVY, 0))
        shadow.putalpha(blurred.point(lambda v: round(v * 0.42)))
        shadow.alpha_composite(small)
        return shadow


def _between(colours: list[Colour], share: float) -> Colour:
    """The colour at a share of the way through several."""
    at = min(int(share * (len(colours) - 1)), len(colours) - 2)
    rest = share * (len(colours) - 1) - at
    red, green, blue = (
        round(a + rest * (b - a)) for a, b in zip(colours[at], colours[at + 1], strict=True)
    )
    return red, green, blue


def bezier(*corners: Point, steps: int = 60) -> list[Point]:
    """Points on a cubic curve, or on several that follow each other: 4, 7, 10 … corners."""
    points = [corners[0]]
    for k in range(0, len(corners) - 1, 3):
        a, b, c, d = corners[k : k + 4]
        for step in range(1, steps + 1):
            t = step / steps
            u = 1 - t
            w = (u**3, 3 * u * u * t, 3 * u * t * t, t**3)
            x, y = (sum(f * p[i] for f, p in zip(w, (a, b, c, d), strict=True)) for i in (0, 1))
            points.append((x, y))
    return points


def arc(x: float, y: float, radius: float, start_deg: float, end_deg: float) -> list[Point]:
    """Points on an arc; angles from the right, clockwise as seen."""
    angles = [(start_deg + (end_deg - start_deg) * k / 120) * pi / 180 for k in range(121)]
    return [(x + radius * cos(a), y + radius * sin(a)) for a in angles]


def both(one: Image.Image, two: Image.Image) -> Image.Image:
    """Where two areas overlap."""
    return Image.composite(one, Image.new("L", one.size, 0), two)


def union(*masks: Image.Image) -> Image.Image:
    """Where any of these areas is."""
    whole = masks[0].copy()
    for mask in masks[1:]:
        whole.paste(255, mask=mask)
    return whole


def shackle() -> Image.Image:
    """The chandler's mark: a bow shackle; film shows through its middle."""
    sheet = Sheet(78, 90)
    left = bezier((21.4, 69), (21.4, 58), (15, 48), (15, 33))
    right = [(78 - x, y) for x, y in reversed(left)]
    bow = [*left, *arc(39, 33, 24, 180, 360), *right]
    body = union(sheet.line(bow, 12), sheet.disc(21.4, 70, 9.6), sheet.disc(56.6, 70, 9.6))
    sheet.blend(body, ((12, 6), (66, 82)), [(38, 92, 138), NAVY, DEEP])
    gleam = [*bezier((16.4, 52), (13.4, 46), (12.6, 40), (12.6, 33)), *arc(39, 33, 26.4, 180, 292)]
    sheet.paint(sheet.line(gleam, 1.7), (150, 196, 224))
    head = [(62.5, 63), (70, 63), (71.5, 64.5), (71.5, 75.5), (70, 77), (62.5, 77)]
    pin = union(sheet.line([(16, 70), (66, 70)], 9), sheet.area(head))
    sheet.blend(pin, ((0, 63), (0, 77)), [(255, 146, 82), ORANGE, EMBER])
    eye = sheet.disc(9.5, 70, 6)
    sheet.blend(eye, ((0, 64), (0, 76)), [(255, 146, 82), ORANGE, EMBER])
    sheet.paint(sheet.disc(9.5, 70, 2.4), DEEP)
    sheet.paint(sheet.line([(20, 68.1), (59, 68.1)], 1.1), SHELL, 0.75)
    return sheet.finished()


def _hexagon(x: float, y: float, radius: float) -> list[Point]:
    return [(x + radius * cos(k * pi / 3), y + radius * sin(k * pi / 3)) for k in range(6)]


def sails() -> Image.Image:
    """The sailmaker's mark: two sails with their seams over a swell; deep concave between them."""
    sheet = Sheet(92, 100)
    main_leech = bezier((50.6, 5), (64, 22), (77, 48), (82, 82))
    main = sheet.area([(48.6, 5), *main_leech, (48.6, 84)])
    jib_luff = bezier((39, 17), (33, 40), (22, 61), (8, 77))
    jib = sheet.area([(40.6, 17), *jib_luff, (40.6, 84)])
    sheet.blend(main, ((48, 10), (84, 76)), [(255, 140, 78), ORANGE, EMBER])
    sheet.blend(jib, ((40, 20), (14, 76)), [SHELL, SAND])
    for y, sag in ((24, 3.0), (37, 4.0), (50, 5.0), (63, 6.0)):
        seam = sheet.line(bezier((46, y), (56, y + sag), (70, y + sag), (90, y - 3)), 0.8)
        sheet.paint(both(seam, main), SHELL)
    stripe = _band(50, 63)
    sheet.paint(both(sheet.area(stripe), main), NAVY)
    for y, sag in ((38, 2.0), (50, 3.0), (62, 4.0)):
        seam = sheet.line(bezier((43, y), (34, y + sag), (22, y + sag), (2, y - 2)), 0.8)
        sheet.paint(both(seam, jib), (190, 158, 104))
    swell = [
        *bezier((4, 76), (18, 70), (31, 71), (46, 75), (62, 79), (76, 78), (88, 72)),
        *bezier((88, 72), (86, 87), (68, 96), (46, 96), (25, 96), (8, 89), (4, 76)),
    ]
    sheet.blend(sheet.area(swell), ((3, 72), (89, 90)), [DARK_GREEN, GREEN])
    crest = bezier((12, 81), (24, 76.5), (34, 78), (46, 82), (58, 86), (69, 86), (79, 82.5))
    sheet.paint(sheet.line(crest, 1.6), WHITE)
    return sheet.finished()


def _band(top: float, bottom: float) -> list[Point]:
    """A stripe of the mainsail between two of its seams."""
    upper = bezier((46, top), (56, top + 5), (70, top + 5), (90, top - 3))
    lower = bezier((46, bottom), (56, bottom + 6), (70, bottom + 6), (90, bottom - 3))
    return [*upper, *reversed(lower)]


def propeller() -> Image.Image:
    """The boatyard's mark: a propeller of three blades."""
    sheet = Sheet(86, 86)
    lead = ((-5, -6), (-20, -14), (-21, -33), (-6, -39.500))
    trail = ((-6, -39.500), (6, -43), (14, -24), (6, -5))
    rib = ((0, -5), (-7, -16), (-10, -28), (-6, -39.500))
    for turn_deg in (0, 120, 240):
        onto = _turned(43, 46, turn_deg)
        whole = [onto(p) for p in [*bezier(*lead), *bezier(*trail)]]
        half = [onto(p) for p in [*bezier(*lead), *reversed(bezier(*rib))]]
        ends = onto((4, -8)), onto((-2, -40))
        sheet.blend(sheet.area(whole), ends, [ORANGE, (255, 158, 96)])
        sheet.blend(sheet.area(half), ends, [EMBER, ORANGE])
    sheet.paint(sheet.disc(43, 46, 13.5), NAVY)
    sheet.blend(sheet.disc(43, 46, 11), ((35, 38), (51, 54)), [(98, 205, 186), DARK_GREEN])
    sheet.paint(sheet.area([(43 + x, 46 + y) for x, y in _hexagon(0, 0, 5.6)]), SAND)
    sheet.paint(sheet.disc(43, 46, 2.6), NAVY)
    return sheet.finished()


def _turned(x: float, y: float, deg: float) -> Callable[[Point], Point]:
    """A map that turns a point about the origin and puts the origin at (x, y)."""
    c, s = cos(deg * pi / 180), sin(deg * pi / 180)
    return lambda p: (x + c * p[0] - s * p[1], y + s * p[0] + c * p[1])


def main() -> None:
    """Write all marks."""
    FOLDER.mkdir(exist_ok=True)
    for name, draw in (("shackle", shackle), ("sails", sails), ("propeller", propeller)):
        draw().save(FOLDER / f"{name}.png", dpi=(DPI, DPI), optimize=True)


if __name__ == "__main__":
    main()
