"""Targets printed, cut and read in numbers, by the laws of the machines and nothing of the product.

The sheet lies askew in a cutter whose own ways are too long, too wide and skewed. Its sensor
reads the marks in those wrong ways, its fit is plain least squares, its blade lands in the same
wrong ways and beside its sensor. A reading is where the slit lies in the print's own axes.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from nestplan.job import Equipment, read_shop
from nestplan.target import Target, equipment_of, make_target
from nestplan.target.readings import Reading, Readings, TapeReading

SHOP = Path(__file__).parents[2] / "demo_jobs" / "shop.toml"
QUIET = {
    "placement_noise_mm": 0.0,
    "distortion_mm": 0.0,
    "tracking_mm_m": 0.0,
    "cut_noise_mm": 0.0,
    "calibration": None,
}
CORRECTS = ("none", "turn", "similarity", "affine", "strips")


def target_of(corrects: str, *, quiet: bool = False, **changes: object) -> Target:
    """The demo shop's pair with another cutter's fit; quiet: nothing but the reading strays."""
    equipment = equipment_of(SHOP, read_shop(SHOP), setup="pair", roll=None)
    cutter, printer, roll = equipment.cutter, equipment.printer, equipment.roll
    cutter = cutter.model_copy(update={"corrects": corrects, **changes})
    if quiet:
        sensor = cutter.sensor.model_copy(update={"repeatability_mm": 0.0})
        cutter = cutter.model_copy(update={**QUIET, "sensor": sensor})
        printer = printer.model_copy(update=QUIET)
        roll = roll.model_copy(update={"shrink_sd_percent": 0.0, "expansion_ppm_k": 0.0})
    made: Equipment = replace(equipment, cutter=cutter, printer=printer, roll=roll)
    return make_target(made)


def truth(rng: np.random.Generator) -> dict[str, float]:
    """What a machine may have wrong, by the keys of the shop file."""
    spread = {
        "offset_x_mm": 0.25,
        "offset_y_mm": 0.25,
        "scale_across_percent": 0.03,
        "scale_along_percent": 0.03,
        "skew_mm_m": 0.3,
        "size_across_percent": 0.05,
        "size_along_percent": 0.05,
        "size_skew_mm_m": 0.4,
    }
    return {key: float(rng.normal(0, sd)) for key, sd in spread.items()}


def read(
    target: Target, true: Mapping[str, float], rng: np.random.Generator, sd_mm: float = 0.05
) -> Readings:
    """All stations and tape lengths of one sheet, read with this scatter, to the half step."""
    equipment = target.equipment
    printer, cutter, roll = equipment.printer, equipment.cutter, equipment.roll
    numbers = [station.number for station in target.stations]
    marks, places = target.marks_mm, target.scales_mm(numbers)
    printed = film(target, np.concatenate([marks, places]), true, rng)
    printed[: len(marks)] += rng.normal(0, printer.placement_noise_mm, marks.shape)
    own = np.hypot(printer.placement_noise_mm, cutter.cut_noise_mm)
    askew = rng.normal(0, 2e-3)
    lying = printed @ np.array([[1, askew], [-askew, 1]]) + rng.normal(0, 2, 2)
    # the cut comes out longer than the print, which is longer than true
    ways = grown(
        true["scale_across_percent"] + true["size_across_percent"],
        true["scale_along_percent"] + true["size_along_percent"],
        true["skew_mm_m"] + true["size_skew_mm_m"],
    )
    seen = lying[: len(marks)] @ np.linalg.inv(ways)
    seen += rng.normal(0, cutter.sensor.repeatability_mm, marks.shape)
    told = fitted(cutter.corrects, marks, seen, places)
    landed = told @ ways + (true["offset_x_mm"], true["offset_y_mm"])
    off = (landed - lying[len(marks) :]) @ np.array([[1, -askew], [askew, 1]])
    off += rng.normal(0, own, off.shape) + rng.normal(0, sd_mm, off.shape)
    n = len(numbers)
    x, y = np.round(off[:n, 0] / 0.05) * 0.05, np.round(off[n:, 1] / 0.05) * 0.05
    return Readings(
        file="read.csv",
        stations=tuple(
            Reading(number=k, x_mm=float(a), y_mm=float(b), line=k)
            for k, a, b in zip(numbers, x, y, strict=True)
        ),
        tapes=taped(target, true, roll, rng),
    )


def grown(across_percent: float, along_percent: float, skew_mm_m: float) -> np.ndarray:
    """What rows of points become that are multiplied by it."""
    return np.array([[1 + across_percent / 100, 0], [skew_mm_m / 1000, 1 + along_percent / 100]])


def stretch_of(target: Target, rng: np.random.Generator) -> tuple[float, float]:
    """The film between print and cut, percent across and along: shrunk, warmed, a little other."""
    roll, setup = target.equipment.roll, target.equipment.setup
    kelvin = rng.normal(setup.cut_warmer_k, setup.cut_warmer_sd_k)
    heat = roll.expansion_ppm_k * 1e-4 * kelvin
    across, along = rng.normal(0, roll.shrink_sd_percent, 2)
    return heat - roll.shrink_across_percent + across, heat - roll.shrink_along_percent + along


def film(
    target: Target, points: np.ndarray, true: Mapping[str, float], rng: np.random.Generator
) -> np.ndarray:
    """(n, 2) where points of the print lie when it is cut."""
    printer, cutter = target.equipment.printer, target.equipment.cutter
    size = [true[f"size_{way}"] for way in ("across_percent", "along_percent", "skew_mm_m")]
    placed = points @ grown(*size) @ grown(*stretch_of(target, rng), 0.0)
    if printer.distortion_mm:
        apart2 = ((points[:, None] - points) ** 2).sum(axis=2)
        smooth = np.exp(-apart2 / (2 * printer.distortion_length_mm**2))
        root = np.linalg.cholesky(smooth + 1e-9 * np.eye(len(points)))
        placed = placed + printer.distortion_mm * (root @ rng.normal(size=points.shape))
    wander = np.hypot(printer.tracking_mm_m, cutter.tracking_mm_m)
    order = np.argsort(points[:, 1], kind="stable")
    y = points[order, 1]
    walk = np.cumsum(wander * np.sqrt(np.diff(y, prepend=y[0]) / 1000) * rng.normal(size=len(y)))
    placed[order, 0] += walk
    return placed


def fitted(corrects: str, marks: np.ndarray, seen: np.ndarray, places: np.ndarray) -> np.ndarray:
    """(n, 2) where a cutter is told to cut, from its marks as seen."""
    middle, there = marks.mean(axis=0), seen.mean(axis=0)
    if corrects == "none":
        return places - marks[0] + seen[0]
    if corrects in ("turn", "similarity"):
        z, w = (marks - middle) @ (1, 1j), (seen - there) @ (1, 1j)
        way = (w @ z.conj()) / (abs(z) ** 2).sum()
        way = way / abs(way) if corrects == "turn" else way
        told = way * ((places - middle) @ (1, 1j))
        return np.column_stack([told.real, told.imag]) + there
    left, right = (np.sort(marks[marks[:, 0] == x, 1]) for x in np.unique(marks[:, 0]))
    joints = (left + right)[1:-1] / 2 if corrects == "strips" else ()

    def columns(at: np.ndarray) -> np.ndarray:
        x, y = ((at - middle) / 1000).T
        bends = [np.maximum(y - (joint - middle[1]) / 1000, 0) for joint in joints]
        return np.column_stack([np.ones_like(x), x, y, *bends])

    return columns(places) @ np.linalg.lstsq(columns(marks), seen, rcond=None)[0]


def taped(
    target: Target, true: Mapping[str, float], roll: object, rng: np.random.Generator
) -> tuple[TapeReading, ...]:
    """Lengths by a class II tape, each read to half a millimetre."""
    size = grown(*(true[f"size_{way}"] for way in ("across_percent", "along_percent", "skew_mm_m")))
    stretched = size @ grown(*stretch_of(target, rng), 0.0)
    tape = rng.uniform(-1, 1)
    said = []
    for each in target.tapes:
        length = float(np.hypot(*(np.array([each.across_mm, each.along_mm]) @ stretched)))
        length += tape * (0.3 + 0.2 * np.ceil(length / 1000)) + rng.uniform(-0.25, 0.25)
        length += rng.uniform(-0.25, 0.25)
        said.append(
            TapeReading(start=each.start, end=each.end, length_mm=length, line=20 + len(said))
        )
    return tuple(said)
