"""The geometry of path data and of the basic shapes, as true curves in user units.

An arc stays the arc it is. Path data follows the grammar of SVG 1.1, 8.3; data that
breaks off is refused, because half a cut line is worse than none.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, radians, sin, sqrt

import numpy as np

from nestplan.artwork.svg.units import NUMBER, Unreadable, finite, shown
from nestplan.geometry.polyline import Affine, Arc, Cubic, Curve, Line, Points, map_points

_GAP = re.compile(r"[\s,]*")
_NUMBER = re.compile(NUMBER)
_HOW_MANY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SubPath:
    """A connected run of curves.

    curves: each begins where the one before ends; may be empty (a dot).
    closed: ends where it began because the file says so (the closing line is in `curves`).
    """

    start: tuple[float, float]
    curves: tuple[Curve, ...]
    closed: bool

    def mapped(self, affine: Affine) -> "SubPath":
        """The same run in other coordinates."""
        x, y = (affine @ (*self.start, 1.0))[:2].tolist()
        curves = tuple(curve.mapped(affine) for curve in self.curves)
        return SubPath(start=(x, y), curves=curves, closed=self.closed)

    def flattened(self, off: float) -> Points:
        """Its points (n, 2), no curve farther than off from its chords; n is 1 for a dot."""
        runs = [curve.flattened(off)[1:] for curve in self.curves]
        return np.concatenate([np.array([self.start]), *runs])


Path = tuple[SubPath, ...]


def hull(path: Path, affine: Affine) -> Points:
    """(least x, least y, greatest x, greatest y) of what holds a mapped path in; may be wider."""
    points = []
    for run in path:
        points.append(map_points(np.array([run.start]), affine))
        for curve in run.curves:
            at = curve.mapped(affine).points
            if isinstance(curve, Arc):
                limbs = np.abs(at[1:]).sum(axis=0)
                at = np.stack([at[0] - limbs, at[0] + limbs])
            points.append(at)
    every = np.concatenate(points)
    return np.concatenate([every.min(axis=0), every.max(axis=0)])


def rectangle(x: float, y: float, width: float, height: float) -> Path:
    """A rectangle from its corner of least x and y."""
    return polygon([x, y, x + width, y, x + width, y + height, x, y + height])


def rounded(x: float, y: float, width: float, height: float, rx: float, ry: float) -> Path:
    """A rectangle with elliptical corners, its radii at most half its sides."""
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    if rx <= 0 or ry <= 0:
        return rectangle(x, y, width, height)
    pen = _Pen(x + rx, y)
    corners = [
        (x + width - rx, y, x + width - rx, y + ry, -pi / 2),
        (x + width, y + height - ry, x + width - rx, y + height - ry, 0.0),
        (x + rx, y + height, x + rx, y + height - ry, pi / 2),
        (x, y + ry, x + rx, y + ry, pi),
    ]
    for to_x, to_y, centre_x, centre_y, start_rad in corners:
        pen.line(to_x, to_y)
        ellipse_at = np.array([[centre_x, centre_y], [rx, 0.0], [0.0, ry]])
        pen.curves.append(Arc(points=ellipse_at, start_rad=start_rad, sweep_rad=pi / 2))
        angle = start_rad + pi / 2
        pen.x, pen.y = centre_x + rx * round(cos(angle)), centre_y + ry * round(sin(angle))
    pen.close()
    return tuple(pen.paths)


def ellipse(centre_x: float, centre_y: float, rx: float, ry: float) -> Path:
    """A whole ellipse, one arc."""
    limbs = np.array([[centre_x, centre_y], [rx, 0.0], [0.0, ry]])
    whole = Arc(points=limbs, start_rad=0.0, sweep_rad=2 * pi)
    return (SubPath(start=(centre_x + rx, centre_y), curves=(whole,), closed=True),)


def polyline(numbers: list[float]) -> Path:
    """An open run through points x, y, x, y …; a last x without y is left out."""
    if len(numbers) < 2:
        return ()
    pen = _Pen(*numbers[:2])
    for x, y in zip(numbers[2::2], numbers[3::2], strict=False):
        pen.line(x, y)
    pen.end()
    return tuple(pen.paths)


def polygon(numbers: list[float]) -> Path:
    """A closed run through points."""
    if len(numbers) < 2:
        return ()
    pen = _Pen(*numbers[:2])
    for x, y in zip(numbers[2::2], numbers[3::2], strict=False):
        pen.line(x, y)
    pen.close()
    return tuple(pen.paths)


def path_data(text: str) -> Path:
    """The runs that path data writes. raises: Unreadable, with the character."""
    if text.strip() in ("", "none"):
        return ()
    pen = None
    for command, given in _commands(text):
        kind, relative = command.upper(), command.islower()
        if kind == "M":
            if pen is None:
                pen = _Pen(*given)
            else:
                x, y = pen.point(given, relative)
                pen.end()
                pen.start_at(x, y)
            continue
        assert pen is not None, "the first command is M"
        pen.draw(kind, given, relative)
    assert pen is not None
    pen.end()
    return tuple(pen.paths)


def _commands(text: str) -> Iterator[tuple[str, list[float]]]:
    """Each command with its numbers; repeated numbers come as commands of their own."""
    at = _skip(text, 0)
    if text[at : at + 1] not in ("M", "m"):
        raise Unreadable(f"path data begins with {shown(text[at : at + 10])}, not with M")
    command = ""
    while at < len(text):
        if text[at].upper() in _HOW_MANY:
            command, at = text[at], _skip(text, at + 1)
        elif command in ("", "Z", "z"):
            raise Unreadable(f"path data makes no sense at character {at + 1}")
        given, at = _take(text, at, command.upper())
        yield command, given
        command = {"M": "L", "m": "l"}.get(command, command)  # further points of M are lines


def _take(text: str, at: int, kind: str) -> tuple[list[float], int]:
    """The numbers one command needs; the two flags of an arc are single characters."""
    given = []
    for k in range(_HOW_MANY[kind]):
        if kind == "A" and k in (3, 4):
            if text[at : at + 1] not in ("0", "1"):
                raise Unreadable(f"an arc in the path data has no flag at character {at + 1}")
            given.append(float(text[at]))
            at = _skip(text, at + 1)
            continue
        found = _NUMBER.match(text, at)
        if found is None:
            raise Unreadable(f"path data makes no sense at character {at + 1}")
        given.append(finite(float(found[0]), found[0]))
        at = _skip(text, found.end())
    return given, at


def _skip(text: str, at: int) -> int:
    """Past blanks and commas."""
    found = _GAP.match(text, at)
    assert found is not None, "the pattern may be empty"
    return found.end()


class _Pen:
    """Draws curve after curve; knows where it stands and what smooth commands continue."""

    def __init__(self, x: float, y: float) -> None:
        self.paths: list[SubPath] = []
        self.start_at(x, y)

    def start_at(self, x: float, y: float) -> None:
        """Begin a run."""
        self.x, self.y = self.start = (x, y)
        self.curves: list[Curve] = []
        self.begun = False  # a run that only moved draws nothing
        self.handle = (x, y)  # last control point, for S and T
        self.before = ""

    def point(self, given: list[float], relative: bool) -> tuple[float, float]:
        """The point two numbers mean."""
        x, y = given
        return (self.x + x, self.y + y) if relative else (x, y)

    def end(self, closed: bool = False) -> None:
        """Finish the run; a lone move draws nothing."""
        if self.begun or closed:
            self.paths.append(SubPath(start=self.start, curves=tuple(self.curves), closed=closed))

    def close(self) -> None:
        """Back to the start by a straight line, and begin the next run there."""
        if (self.x, self.y) != self.start:
            self.line(*self.start)
        self.end(closed=True)
        self.start_at(*self.start)

    def line(self, x: float, y: float) -> None:
        """A straight line, unless it has no length."""
        self.begun = True
        if (x, y) != (self.x, self.y):
            self.curves.append(Line(points=np.array([[self.x, self.y], [x, y]])))
        self.x, self.y = x, y

    def draw(self, kind: str, given: list[float], relative: bool) -> None:
        """Any command but M."""
        if kind == "Z":
            self.close()
            return
        self.begun = True
        if kind == "H":
            self.line(self.x + given[0] if relative else given[0], self.y)
        elif kind == "V":
            self.line(self.x, self.y + given[0] if relative else given[0])
        elif kind == "A":
            self._arc(given[:5], *self.point(given[5:], relative))
        else:
            pairs = [self.point(given[k : k + 2], relative) for k in range(0, len(given), 2)]
            draw: dict[str, Callable[..., None]] = {
                "L": lambda to: self.line(*to),
                "C": self._cubic,
                "S": lambda *two: self._cubic(self._mirrored("CS"), *two),
                "Q": self._quadratic,
                "T": lambda to: self._quadratic(self._mirrored("QT"), to),
            }
            draw[kind](*pairs)
        self.before = kind

    def _mirrored(self, smooth_after: str) -> tuple[float, float]:
        """The control point a smooth command takes over from the one before."""
        if self.before not in tuple(smooth_after):
            return self.x, self.y
        return 2 * self.x - self.handle[0], 2 * self.y - self.handle[1]

    def _cubic(
        self, one: tuple[float, float], two: tuple[float, float], to: tuple[float, float]
    ) -> None:
        if not one == two == to == (self.x, self.y):
            self.curves.append(Cubic(points=np.array([(self.x, self.y), one, two, to])))
        self.handle, (self.x, self.y) = two, to

    def _quadratic(self, one: tuple[float, float], to: tuple[float, float]) -> None:
        """A quadratic raised to the cubic that is the same curve."""
        handle, start = np.array(one), np.array((self.x, self.y))
        end = np.array(to)
        two = (start + 2 * handle) / 3, (end + 2 * handle) / 3
        self._cubic(tuple(two[0].tolist()), tuple(two[1].tolist()), to)
        self.handle = one

    def _arc(self, given: list[float], x: float, y: float) -> None:
        """From end points to the centre (SVG 1.1, F.6.5 and F.6.6)."""
        rx, ry, tilt_deg, large, sweep = given
        rx, ry = abs(rx), abs(ry)
        if (x, y) == (self.x, self.y):
            return
        if rx == 0 or ry == 0:
            self.line(x, y)
            return
        c, s = cos(radians(tilt_deg)), sin(radians(tilt_deg))
        half_x, half_y = (self.x - x) / 2, (self.y - y) / 2
        x1, y1 = (c * half_x + s * half_y) / rx, (c * half_y - s * half_x) / ry
        reach = hypot(x1, y1)
        if reach > 1:  # the radii are too small to reach: they grow until they do
            rx, ry, x1, y1 = rx * reach, ry * reach, x1 / reach, y1 / reach
        off = sqrt(max(0.0, 1 - x1 * x1 - y1 * y1)) / max(hypot(x1, y1), 1e-300)
        off = -off if large == sweep else off
        cx, cy = (
            off * y1,
            -off * x1,
        )  # the centre, in the frame where the ellipse is the unit circle
        start_rad, end_rad = atan2(y1 - cy, x1 - cx), atan2(-y1 - cy, -x1 - cx)
        sweep_rad = (end_rad - start_rad) % (2 * pi)
        sweep_rad = sweep_rad if sweep else sweep_rad - 2 * pi
        u, v = np.array([rx * c, rx * s]), np.array([-ry * s, ry * c])
        middle = np.array([(self.x + x) / 2, (self.y + y) / 2])
        centre = middle + cx * u + cy * v
        limbs = np.stack([centre, u, v])
        self.curves.append(Arc(points=limbs, start_rad=start_rad, sweep_rad=sweep_rad))
        self.x, self.y = x, y
