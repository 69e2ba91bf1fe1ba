"""A printer, a person with a measuring table and a cutter, simulated.

Shares no code with the product: smooth distortion comes from cubic splines through random
heights, fits from general least squares, files are read by an XML parser and `float`.
"""

import hashlib
import json
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from lxml import etree
from scipy.interpolate import RectBivariateSpline

SVG = "{http://www.w3.org/2000/svg}"
STEP_MM = 5.0  # of a film that wanders
NUMBER = re.compile(r"-?\d+\.?\d*")


@dataclass(kw_only=True, eq=False)
class CutFile:
    """A cut file as its numbers are: mm from the frame's lower left corner, y up."""

    marks: dict[int, np.ndarray]
    rings: list[tuple[tuple[int, int], np.ndarray]]


def read_cut(svg: bytes) -> CutFile:
    """Marks by the middle of their box, rings with decal and copy."""
    root = etree.fromstring(svg)
    height = float(root.get("viewBox").split()[3])

    def points(path):
        flat = [float(word) for word in NUMBER.findall(path.get("d"))]
        return np.array(flat).reshape(-1, 2) * (1, -1) + (0, height)

    marks, rings = {}, []
    for group in root.iter(f"{SVG}g"):
        for path in group.iter(f"{SVG}path"):
            at = points(path)
            if group.get("id") == "marks":
                marks[int(path.get("data-mark"))] = (at.min(axis=0) + at.max(axis=0)) / 2
            else:
                key = int(path.get("data-decal")), int(path.get("data-copy"))
                rings.append((key, at))
    return CutFile(marks=marks, rings=rings)


@dataclass(kw_only=True, eq=False)
class Printer:
    """What a printer and its film do to a frame of this size.

    across, along: stretch (shares); skew: mm to the right for a mm along; waves_mm: standard
    deviation of the splines' heights; walk_mm_m: how far the film wanders sideways over a metre;
    noise_mm: of each mark and each copy by itself.
    """

    size_mm: tuple[float, float]
    across: float = 0.0
    along: float = 0.0
    skew: float = 0.0
    waves_mm: float = 0.0
    walk_mm_m: float = 0.0
    noise_mm: float = 0.0
    seed: int = 0
    waves: list = field(default_factory=list)

    def __post_init__(self):
        self.rng = np.random.default_rng(self.seed)
        x, y = (np.linspace(0, size, 5) for size in self.size_mm)
        heights = self.waves_mm * self.rng.standard_normal((2, 5, 5))
        self.waves = [RectBivariateSpline(x, y, each) for each in heights]
        self.feed = np.arange(0.0, self.size_mm[1] + 2 * STEP_MM, STEP_MM)
        self.walk = np.zeros(len(self.feed))
        if self.walk_mm_m:
            steps = np.sqrt(STEP_MM / 1000) * self.walk_mm_m
            self.walk = np.cumsum(steps * self.rng.standard_normal(len(self.feed)))

    def at(self, points: np.ndarray) -> np.ndarray:
        """Where the film has what was planned at the points, noise apart."""
        x, y = points.T
        shifts = [wave(x, y, grid=False) for wave in self.waves]
        return np.column_stack(
            [
                x * (1 + self.across)
                + self.skew * y
                + shifts[0]
                + np.interp(y, self.feed, self.walk),
                y * (1 + self.along) + shifts[1],
            ]
        )

    def marks(self, planned: dict[int, np.ndarray]) -> dict[int, np.ndarray]:
        """Printed marks."""
        return {
            number: self.at(place[None])[0] + self.noise_mm * self.rng.standard_normal(2)
            for number, place in planned.items()
        }


def measured(
    printed: dict[int, np.ndarray], rng, *, noise_mm: float, angle_deg: float, shift_mm=(0, 0)
) -> dict[int, np.ndarray]:
    """The marks as read on a table on which the sheet lies turned and shifted."""
    a = np.radians(angle_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return {
        number: turn @ place + shift_mm + noise_mm * rng.standard_normal(2)
        for number, place in printed.items()
    }


def table(rows, head: str = "") -> str:
    """CSV of (frame, mark, x, y)."""
    lines = [f"{frame},{mark},{x:.4f},{y:.4f}" for frame, mark, x, y in rows]
    return f"{head}frame,mark,x_mm,y_mm\n" + "\n".join(lines) + "\n"


def rows_of(frame: int, marks: dict[int, np.ndarray]) -> list[tuple[int, int, float, float]]:
    """Rows of the table for one frame."""
    return [(frame, number, float(x), float(y)) for number, (x, y) in marks.items()]


def cut(corrects: str, file: CutFile, read: dict[int, np.ndarray]) -> list[np.ndarray]:
    """Where the blade goes: the cutter fits its file's marks to those it reads."""
    numbers = sorted(file.marks)
    mine = np.array([file.marks[n] for n in numbers])
    there = np.array([read[n] for n in numbers])
    rings = [ring for _, ring in file.rings]
    if corrects == "none":
        return [ring + there[0] - mine[0] for ring in rings]
    middle, goal = mine.mean(axis=0), there.mean(axis=0)
    if corrects in ("turn", "similarity"):
        arm, reach = (mine - middle) @ (1, 1j), (there - goal) @ (1, 1j)
        way = (arm.conj() * reach).sum() / (abs(arm) ** 2).sum()
        if corrects == "turn":
            way /= abs(way)
        moved = [way * ((ring - middle) @ (1, 1j)) for ring in rings]
        return [np.column_stack([z.real, z.imag]) + goal for z in moved]
    knots = _rows(mine) if corrects == "strips" else []

    def columns(points):
        x, y = ((points - middle) / 1000).T
        bends = [np.maximum(y - (k - middle[1]) / 1000, 0.0) for k in knots[1:-1]]
        return np.column_stack([np.ones_like(x), x, y, *bends])

    figures = np.linalg.lstsq(columns(mine), there, rcond=None)[0]
    return [columns(ring) @ figures for ring in rings]


def laid_by(file: CutFile, printed: dict[int, np.ndarray], rng, noise_mm: float) -> complex:
    """The turn of a sheet that is laid by mark 1 and the mark farthest from it, as the file has
    them; each is seen with some noise."""
    first = min(file.marks)
    far = max(file.marks, key=lambda n: np.hypot(*(file.marks[n] - file.marks[first])))
    wanted = (file.marks[far] - file.marks[first]) @ (1, 1j)
    seen = printed[far] - printed[first] + noise_mm * np.sqrt(2) * rng.standard_normal(2)
    way = wanted / (seen @ (1, 1j))
    return way / abs(way)


def turned(place: np.ndarray, way: complex) -> np.ndarray:
    """A place on a sheet that was turned about the origin."""
    z = way * (place @ (1, 1j))
    return np.array([z.real, z.imag])


def _rows(marks: np.ndarray) -> list[float]:
    """Heights at which strips meet: midway between the two marks of each pair."""
    left = np.sort(marks[marks[:, 0] < marks[:, 0].mean(), 1])
    right = np.sort(marks[marks[:, 0] >= marks[:, 0].mean(), 1])
    return ((left + right) / 2).tolist()


def set_model(folder: Path, **figures: object) -> None:
    """Change figures of the predicted error in a plan's summary."""
    path = folder / "summary.json"
    summary = json.loads(path.read_text())
    summary["marks"]["model"].update(figures)
    path.write_text(json.dumps(summary))


def digest(path: Path) -> str:
    """sha256 in hex."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
