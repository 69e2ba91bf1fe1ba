"""Draw the sponsors' art: PNG with soft transparent edges, 300 dpi.

    python demo_jobs/sponsors/make_art.py

Each picture is drawn four times too large and made smaller, so that its edges are smooth.
Nothing here is random and Pillow is told everything it writes, so one version of Pillow gives
the same bytes each time.
"""

from itertools import pairwise
from math import cos, pi, sin
from pathlib import Path

from PIL import Image, ImageDraw

HERE = Path(__file__).parent / "art"
DPI = 300
TIMES = 4
PX_PER_MM = DPI / 25.4 * TIMES

NAVY, SEA, TEAL = (11, 37, 69, 255), (19, 103, 138, 255), (46, 196, 182, 255)
FOAM, SAND, GOLD = (244, 251, 250, 255), (246, 231, 193, 255), (255, 191, 70, 255)
CORAL, RED, BROWN = (238, 108, 77, 255), (209, 52, 91, 255), (112, 72, 40, 255)

Point = tuple[float, float]
Colour = tuple[int, int, int, int]


class Sheet:
    """A transparent page in mm, origin in the middle, y down."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.size_px = [4 * round(side * PX_PER_MM / 4) for side in (width_mm, height_mm)]
        self.image = Image.new("RGBA", self.size_px, (0, 0, 0, 0))
        self.draw = ImageDraw.Draw(self.image)

    def at(self, point: Point) -> Point:
        """From mm to pixels."""
        width, height = self.size_px
        return width / 2 + point[0] * PX_PER_MM, height / 2 + point[1] * PX_PER_MM

    def shape(self, points: list[Point], colour: Colour | None) -> None:
        """A filled outline; None wipes it out."""
        self.draw.polygon([self.at(point) for point in points], fill=colour or (0, 0, 0, 0))

    def disc(self, centre: Point, radius_mm: float, colour: Colour | None) -> None:
        """A filled circle; None wipes it out."""
        x, y = self.at(centre)
        r = radius_mm * PX_PER_MM
        self.draw.ellipse((x - r, y - r, x + r, y + r), fill=colour or (0, 0, 0, 0))

    def line(self, points: list[Point], width_mm: float, colour: Colour) -> None:
        """A line with round ends and corners."""
        px = [self.at(point) for point in points]
        for start, end in pairwise(px):
            self.draw.line((start, end), fill=colour, width=round(width_mm * PX_PER_MM))
        for point in points:
            self.disc(point, width_mm / 2, colour)

    def inside(self, other: "Sheet") -> None:
        """Lay another sheet over this one, where this one is painted already."""
        covered = other.image.getchannel("A")
        seen = Image.composite(covered, Image.new("L", covered.size, 0), self.image.getchannel("A"))
        self.image.paste(other.image, (0, 0), seen)

    def upon(self, other: "Sheet") -> None:
        """Lay this sheet over another."""
        self.image = Image.alpha_composite(other.image, self.image)
        self.draw = ImageDraw.Draw(self.image)

    def save(self, name: str) -> None:
        """Write the PNG at its final resolution."""
        small = self.image.convert("RGBa").resize(
            [side // TIMES for side in self.size_px], Image.Resampling.BOX
        )
        small.convert("RGBA").save(HERE / name, dpi=(DPI, DPI), compress_level=9)


def ring(radius_mm: float, count: int = 720, start_deg: float = 0.0) -> list[Point]:
    """Points of a circle."""
    turns = (2 * pi * k / count + start_deg * pi / 180 for k in range(count))
    return [(radius_mm * cos(t), radius_mm * sin(t)) for t in turns]


def bezier(*points: Point, steps: int = 60) -> list[Point]:
    """A chain of cubic curves: start, then three points for each curve."""
    path = [points[0]]
    for k in range(1, len(points), 3):
        a, (b, c, d) = path[-1], points[k : k + 3]
        for step in range(1, steps + 1):
            t = step / steps
            w = ((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t * t, t**3)
            path.append(
                tuple(sum(q * p[i] for q, p in zip(w, (a, b, c, d), strict=True)) for i in (0, 1))
            )
    return path


def moved(points: list[Point], x: float, y: float, scale: float = 1.0) -> list[Point]:
    """Points shifted by mm, scaled before."""
    return [(x + scale * px, y + scale * py) for px, py in points]


def bread_ring() -> None:
    """A twisted ring of bread: its hole is cut too."""
    page = Sheet(86, 86)
    page.shape(
        [
            (r[0] * (38 + 1.6 * cos(12 * a)), r[1] * (38 + 1.6 * cos(12 * a)))
            for r, a in ((p, 2 * pi * k / 720) for k, p in enumerate(ring(1)))
        ],
        BROWN,
    )
    shade = Sheet(86, 86)
    for radius, colour in (
        (37, (150, 92, 44, 255)),
        (33.5, (193, 124, 60, 255)),
        (30.5, (221, 155, 84, 255)),
        (27, (235, 178, 108, 255)),
        (22, (221, 155, 84, 255)),
        (19, (186, 116, 55, 255)),
    ):
        shade.disc((0, 0), radius, colour)
    for k in range(12):
        turn = 2 * pi * k / 12
        start, end = turn - 0.10, turn + 0.30
        fold = []
        for step in range(25):
            t = start + (end - start) * step / 24
            r = 36.5 - 20 * step / 24
            fold.append((r * cos(t), r * sin(t)))
        shade.line(fold, 1.1, BROWN)
    for k in range(36):
        turn, r = 2 * pi * (k * 0.381966), 22.5 + 9.5 * ((k * 7) % 12) / 12
        x, y = r * cos(turn), r * sin(turn)
        shade.line(
            [
                (x - 0.5 * cos(3 * turn), y - 0.5 * sin(3 * turn)),
                (x + 0.5 * cos(3 * turn), y + 0.5 * sin(3 * turn)),
            ],
            1.0,
            SAND,
        )
    page.inside(shade)
    page.disc((0, 0), 15, None)
    page.save("quay_bakery.png")


def sailmaker_sail() -> None:
    """A full sail above a small boat; the sheets close a window between them."""
    outline = bezier(
        (0, -46),
        (17, -42),
        (37, -22),
        (40, 14),
        (40.5, 20),
        (37, 27),
        (31, 33),
        (22, 21),
        (10, 16),
        (0, 16),
        (-10, 16),
        (-22, 21),
        (-31, 33),
        (-37, 27),
        (-40.5, 20),
        (-40, 14),
        (-37, -22),
        (-17, -42),
        (0, -46),
    )
    page = Sheet(92, 100)
    page.shape(outline, CORAL)
    panels = Sheet(92, 100)
    for left, right, colour in (
        (-1.0, -0.62, RED),
        (-0.62, -0.2, CORAL),
        (-0.2, 0.2, SAND),
        (0.2, 0.62, CORAL),
        (0.62, 1.0, RED),
    ):
        edge = []
        for share in (left, right):
            side = bezier((0, -47), (46 * share, -42), (52 * share, -6), (44 * share, 36))
            edge += side if share == left else side[::-1]
        panels.shape(edge, colour)
    for share in (-0.62, -0.2, 0.2, 0.62):
        panels.line(
            bezier((0, -47), (46 * share, -42), (52 * share, -6), (44 * share, 36)),
            0.7,
            (150, 30, 60, 255),
        )
    anchor = [(0, -14), (0, 6)]
    panels.disc((0, -17.4), 2.9, NAVY)
    panels.disc((0, -17.4), 1.3, SAND)
    panels.line(anchor, 1.9, NAVY)
    panels.line([(-4.6, -11), (4.6, -11)], 1.7, NAVY)
    panels.line(
        bezier((-8, -0.5), (-7, 4.5), (-3.5, 6.6), (0, 7.2), (3.5, 6.6), (7, 4.5), (8, -0.5)),
        1.9,
        NAVY,
    )
    page.inside(panels)
    for side in (-1, 1):
        page.line([(30.5 * side, 32), (6 * side, 46)], 1.2, NAVY)
    page.shape(
        bezier(
            (-13, 43),
            (-6, 44.5),
            (6, 44.5),
            (13, 43),
            (11, 47.5),
            (7, 48.6),
            (0, 48.6),
            (-7, 48.6),
            (-11, 47.5),
            (-13, 43),
        ),
        NAVY,
    )
    page.save("loft_sailmakers.png")


def fishmonger_fish() -> None:
    """A fish with a forked tail, which is the concave outline of the set."""
    body = bezier(
        (-47, 0),
        (-40, -14),
        (-20, -21),
        (2, -17),
        (16, -14.5),
        (24, -8),
        (30, -4),
        (36, -8),
        (42, -15),
        (47.5, -17.5),
        (49.5, -18),
        (50, -16.5),
        (49, -14.5),
        (45, -6),
        (45, 6),
        (49, 14.5),
        (50, 16.5),
        (49.5, 18),
        (47.5, 17.5),
        (42, 15),
        (36, 8),
        (30, 4),
        (24, 8),
        (16, 14.5),
        (2, 17),
        (-20, 21),
        (-40, 14),
        (-47, 0),
    )
    page, fins = Sheet(106, 62), Sheet(106, 62)
    for fin in (
        bezier(
            (-14, -15),
            (-8, -25),
            (6, -27),
            (15, -25),
            (12, -20),
            (12, -16),
            (14, -12),
            (4, -14),
            (-6, -15),
            (-14, -15),
        ),
        bezier(
            (-8, 16),
            (-4, 23),
            (4, 26),
            (10, 25.5),
            (8, 21),
            (8, 17),
            (9, 13),
            (3, 15),
            (-3, 16),
            (-8, 16),
        ),
    ):
        fins.shape(fin, (16, 82, 116, 255))
    page.shape(body, TEAL)
    inner = Sheet(106, 62)
    inner.shape(
        bezier(
            (-50, -2),
            (-20, -8),
            (10, -3),
            (52, -1),
            (52, -10),
            (52, -20),
            (52, -30),
            (20, -30),
            (-20, -30),
            (-50, -30),
            (-50, -20),
            (-50, -10),
            (-50, -2),
        ),
        SEA,
    )
    inner.shape(
        bezier(
            (-50, 6),
            (-20, 14),
            (10, 10),
            (28.5, 4.6),
            (29, 10),
            (29, 20),
            (30, 30),
            (0, 30),
            (-20, 30),
            (-50, 30),
            (-50, 20),
            (-50, 10),
            (-50, 6),
        ),
        FOAM,
    )
    inner.shape(
        bezier(
            (30, -30),
            (27.5, -8),
            (27.5, 8),
            (30, 30),
            (40, 30),
            (50, 30),
            (56, 30),
            (56, 10),
            (56, -10),
            (56, -30),
            (50, -30),
            (40, -30),
            (30, -30),
        ),
        SEA,
    )
    for row, (y, count) in enumerate(((-6, 7), (-1, 8), (4, 7))):
        for k in range(count):
            x = -17 + 5.4 * k + (2.7 if row % 2 == 0 else 0)
            arc = [
                (x + 2.7 * cos(t), y + 2.7 * sin(t))
                for t in (-pi / 2 - pi * step / 18 for step in range(19))
            ]
            inner.line(arc, 0.6, (13, 78, 110, 255))
    inner.line(bezier((-24, -17), (-19, -8), (-19, 8), (-24, 17)), 1.3, NAVY)
    inner.shape(bezier((-14, 5), (-8, 3), (-4, 8), (-3, 13), (-8, 12), (-13, 10), (-14, 5)), SEA)
    for side in (-1, 1):
        for k in range(3):
            inner.line(
                [(33.5 + k, side * (0.8 + 2.2 * k)), (45.5, side * (2.2 + 4.4 * k))], 0.7, TEAL
            )
    page.inside(inner)
    page.upon(fins)
    page.disc((-34, -4.5), 4.1, FOAM)
    page.disc((-34.5, -4.5), 2.3, NAVY)
    page.disc((-35.3, -5.3), 0.8, FOAM)
    page.line(bezier((-45, 3), (-42, 5), (-39, 5.4), (-36.5, 4.6)), 0.9, NAVY)
    page.save("pier_fish.png")


if __name__ == "__main__":
    bread_ring()
    sailmaker_sail()
    fishmonger_fish()
