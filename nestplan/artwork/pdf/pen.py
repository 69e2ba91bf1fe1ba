"""Path operators of a PDF become runs of curves (ISO 32000-1, 8.5.2)."""

from math import isfinite

import numpy as np

from nestplan.artwork.svg.path import Path, SubPath
from nestplan.faults import Fault
from nestplan.geometry.polyline import Cubic, Curve, Line

_COUNT = {"m": 2, "l": 2, "c": 6, "v": 4, "y": 4, "h": 0, "re": 4}
_FARTHEST = 1e7  # points: three kilometres

Point = tuple[float, float]


class Pen:
    """Collects one path. clips: the operator, W or W*, by which it is also a clip."""

    def __init__(self) -> None:
        self.clips = ""
        self._runs: list[SubPath] = []
        self._curves: list[Curve] = []
        self._start: Point | None = None
        self._at: Point = (0.0, 0.0)

    def takes(self, name: str) -> bool:
        """Whether the operator draws."""
        return name in _COUNT

    def draw(self, name: str, numbers: list[float]) -> None:
        """Take one operator. raises: Fault for numbers that are no place."""
        if len(numbers) != _COUNT[name]:
            return  # broken in the file: viewers go on with the next
        if not all(isfinite(number) and abs(number) < _FARTHEST for number in numbers):
            raise Fault(
                what=f"a path leads to {numbers}, kilometres away",
                where="page 1",
                do="delete stray points, then export it again",
            )
        points = [(numbers[k], numbers[k + 1]) for k in range(0, len(numbers), 2)]
        match name:
            case "m":
                self._end(closed=False)
                self._start = self._at = points[0]
            case "re":
                self._end(closed=False)
                (x, y), (width, height) = points
                self._start = self._at = x, y
                for corner in ((x + width, y), (x + width, y + height), (x, y + height)):
                    self._line(corner)
                self._end(closed=True)
                self._start = self._at = x, y
            case "h":
                self._end(closed=True)
            case _ if self._start is None:
                pass
            case "l":
                self._line(points[0])
            case "c":
                self._curve(*points)
            case "v":
                self._curve(self._at, *points)
            case "y":
                self._curve(points[0], points[1], points[1])

    def taken(self, *, closing: bool) -> Path:
        """The path so far; the next one starts empty."""
        self._end(closed=closing)
        path, self._runs, self._start = tuple(self._runs), [], None
        return path

    def _line(self, to: Point) -> None:
        self._curves.append(Line(points=np.array([self._at, to])))
        self._at = to

    def _curve(self, first: Point, second: Point, to: Point) -> None:
        self._curves.append(Cubic(points=np.array([self._at, first, second, to])))
        self._at = to

    def _end(self, *, closed: bool) -> None:
        """Finish a run; a start without anything after it draws nothing."""
        if self._start is None or not self._curves:
            return
        if closed and self._at != self._start:
            self._line(self._start)
        self._runs.append(SubPath(start=self._start, curves=tuple(self._curves), closed=closed))
        self._curves = []
        self._at = self._start
