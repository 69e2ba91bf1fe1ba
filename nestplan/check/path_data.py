"""Path data of SVG 1.1 (chapter 8.3) as rings: straight commands only.

A cut layer is made of chords; a curve in it was not written by a planner, and is
reported, not followed.
"""

import re

import numpy as np
from numpy.typing import NDArray

TOKEN = re.compile(r"[A-Za-z]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
BETWEEN = re.compile(r"[\s,]*")
ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "Z": 0}
PLAIN = re.compile(r"\s*M([^A-KM-Za-z]*)Z\s*")  # one ring, absolute; no pattern that could run long


def rings_of(data: str) -> list[tuple[NDArray[np.float64], bool]]:
    """Each subpath as points (n, 2) in user units, and whether it was closed.

    The first point is not repeated at the end.
    raises: ValueError that says which command or character is not straight path data.
    """
    plain = PLAIN.fullmatch(data)
    if plain is not None:
        try:
            numbers = np.array(plain[1].replace("L", " ").replace(",", " ").split(), np.float64)
        except ValueError:
            numbers = np.zeros(1)
        if len(numbers) % 2 == 0 and len(numbers) and np.isfinite(numbers).all():
            return [(_plain(numbers.reshape(-1, 2), closed=True), True)]
    return _walked(_tokens(data))


def _tokens(data: str) -> list[str]:
    tokens: list[str] = []
    at = 0
    while True:
        blank = BETWEEN.match(data, at)
        at = blank.end() if blank else at
        if at == len(data):
            return tokens
        token = TOKEN.match(data, at)
        if token is None:
            raise ValueError(f"{data[at : at + 8]!r} is no path data")
        tokens.append(token[0])
        at = token.end()


def _walked(tokens: list[str]) -> list[tuple[NDArray[np.float64], bool]]:
    rings: list[tuple[NDArray[np.float64], bool]] = []
    points: list[tuple[float, float]] = []
    x = y = 0.0
    command, at = "", 0

    def finish(closed: bool) -> None:
        if points:
            rings.append((_plain(np.array(points), closed=closed), closed))
            points.clear()

    while at < len(tokens):
        if tokens[at].isalpha():
            command, at = tokens[at], at + 1
            if command.upper() not in ARGUMENTS:
                raise ValueError(f"the command {command} is not a straight line")
            if command in "Zz":
                start = points[0] if points else (x, y)
                finish(closed=True)
                x, y = start
                continue
        wanted = ARGUMENTS.get(command.upper(), 0)
        values = tokens[at : at + wanted]
        if not wanted or len(values) < wanted or any(value.isalpha() for value in values):
            raise ValueError(f"numbers are missing or too many after {command or 'nothing'}")
        at += wanted
        numbers = [float(value) for value in values]
        if command in "Mm":
            finish(closed=False)
        elif not points:
            points.append((x, y))  # a line after Z starts where the ring was closed
        x, y = _moved(command, numbers, x, y)
        points.append((x, y))
        command = {"M": "L", "m": "l"}.get(command, command)
    finish(closed=False)
    return rings


def _moved(command: str, numbers: list[float], x: float, y: float) -> tuple[float, float]:
    match command:
        case "H":
            return numbers[0], y
        case "h":
            return x + numbers[0], y
        case "V":
            return x, numbers[0]
        case "v":
            return x, y + numbers[0]
        case "M" | "L":
            return numbers[0], numbers[1]
        case _:
            return x + numbers[0], y + numbers[1]


def _plain(points: NDArray[np.float64], *, closed: bool) -> NDArray[np.float64]:
    """Without points that repeat the one before, and without the first at a closed end."""
    new = np.any(points[1:] != points[:-1], axis=1)
    kept: NDArray[np.float64] = points[np.concatenate([[True], new])]
    if closed and len(kept) > 1 and (kept[-1] == kept[0]).all():
        return kept[:-1]
    return kept
