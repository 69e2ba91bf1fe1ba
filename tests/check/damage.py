"""Damage a good plan's folder in one place, and hide the traces.

    python tests/check/damage.py DIR KIND TARGET [--bend] [--seed N]

KIND is one of KINDS; TARGET says which files are hurt: pdf, svg or both. The digests in
the summary are always made right again; with --bend its figures are changed too, until
they agree with what was hurt. What is left to tell is geometry, pixels, and that two
files disagree. The same seed always picks the same victim.

Nothing of nestplan is imported: this script knows the written contract only.
"""

import argparse
import hashlib
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
from lxml import etree
from pikepdf import ContentStreamInstruction, Operator

TARGETS = ("pdf", "svg", "both")
SVG = "{http://www.w3.org/2000/svg}"
MOVE_MM, TURN_DEG, SCALE = 1.0, 1.0, 1.005


@dataclass
class Folder:
    """A folder being damaged."""

    path: Path
    rng: np.random.Generator
    targets: tuple[str, ...]
    bend: bool
    summary: dict[str, Any] = field(init=False)
    names: list[str] = field(default_factory=list)  # elements that were hurt
    files: list[str] = field(default_factory=list)  # files that were hurt

    def __post_init__(self) -> None:
        self.summary = json.loads((self.path / "summary.json").read_bytes())

    # who is hurt

    def frame(self) -> dict[str, Any]:
        """A frame with copies and marks."""
        frames = [frame for frame in self.summary["frames"] if frame["placements"]]
        return frames[self.rng.integers(len(frames))]

    def copy(self, frame: dict[str, Any], decal: int | None = None) -> dict[str, Any]:
        """A copy of a frame, of one decal if it is given."""
        copies = [p for p in frame["placements"] if decal in (None, p["decal"])]
        return copies[self.rng.integers(len(copies))]

    def decal(self, number: int) -> dict[str, Any]:
        """A decal by its number from 1."""
        return self.summary["decals"][number - 1]

    def named(self, place: dict[str, Any]) -> str:
        """A copy as a person calls it; it is noted as hurt."""
        name = f"{self.decal(place['decal'])['name']}, copy {place['copy']}"
        self.names.append(name)
        return name

    # files

    def svg(self, frame: dict[str, Any], change: Callable[[etree._Element], None]) -> None:
        """Change the cut layer of a frame."""
        name = f"cut-{frame['index']:02d}.svg"
        root = etree.fromstring((self.path / name).read_bytes())
        change(root)
        (self.path / name).write_bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))
        self.files.append(name)

    def pdf(self, change: Callable[[pikepdf.Pdf], None]) -> None:
        """Change the print PDF."""
        path = self.path / "print.pdf"
        with pikepdf.open(path, allow_overwriting_input=True) as pdf:
            change(pdf)
            pdf.save(path)
        self.files.append("print.pdf")

    def page(self, frame: dict[str, Any], change: Callable[[list[Any]], list[Any]]) -> None:
        """Change the operators of a frame's page."""

        def on(pdf: pikepdf.Pdf) -> None:
            page = pdf.pages[frame["index"] - 1]
            operators = change(list(pikepdf.parse_content_stream(page)))
            page.obj.Contents = pdf.make_stream(pikepdf.unparse_content_stream(operators))

        self.pdf(on)

    def finish(self) -> None:
        """Make every digest right again."""
        for name in self.summary["files"]:
            data = (self.path / name).read_bytes()
            self.summary["files"][name] = hashlib.sha256(data).hexdigest()
        text = json.dumps(self.summary, indent=1, ensure_ascii=False)
        (self.path / "summary.json").write_text(text)

    # places

    def placing(self, operators: list[Any], frame: dict[str, Any], place: dict[str, Any]) -> int:
        """Index of the `cm` that puts a copy on its page."""
        x = place["x_mm"] - self.summary["page_x0_mm"]
        y = place["y_mm"] - frame["y0_mm"]
        for k, each in enumerate(operators[:-1]):
            if str(each.operator) == "cm" and str(operators[k + 1].operator) == "Do":
                numbers = [float(value) for value in each.operands]
                if abs(numbers[4] - x) < 1e-3 and abs(numbers[5] - y) < 1e-3:
                    return k
        raise LookupError(f"no placing at {x}, {y}")


def rings(root: etree._Element, place: dict[str, Any]) -> list[etree._Element]:
    """The paths of a copy."""
    key = str(place["decal"]), str(place["copy"])
    return [
        path
        for path in root.iter(f"{SVG}path")
        if (path.get("data-decal"), path.get("data-copy")) == key
    ]


def points(path: etree._Element) -> np.ndarray:
    """Points (n, 2) of a path of straight lines."""
    text = path.get("d").replace("M", " ").replace("L", " ").replace("Z", " ")
    return np.array(text.split(), float).reshape(-1, 2)


def write_points(path: etree._Element, xy: np.ndarray) -> None:
    """Give a path other points."""
    path.set("d", "M" + " L".join(f"{x:.4f} {y:.4f}" for x, y in xy.tolist()) + " Z")


def matrix_op(numbers: list[float], operator: str = "cm") -> ContentStreamInstruction:
    """An operator with numbers."""
    return ContentStreamInstruction([round(float(n), 9) for n in numbers], Operator(operator))


def svg_centre(folder: Folder, frame: dict[str, Any], place: dict[str, Any]) -> np.ndarray:
    """Where a copy's centre lies in its cut layer."""
    return np.array([place["x_mm"], frame["length_mm"] - (place["y_mm"] - frame["y0_mm"])])


def moved(folder: Folder) -> None:
    """A decal moved by a millimetre."""
    frame = folder.frame()
    place = folder.copy(frame)
    folder.named(place)
    angle = folder.rng.uniform(0, 2 * np.pi)
    step = MOVE_MM * np.array([np.cos(angle), np.sin(angle)])
    _move_copy(folder, frame, place, step)


def _move_copy(
    folder: Folder, frame: dict[str, Any], place: dict[str, Any], step: np.ndarray
) -> None:
    if "pdf" in folder.targets:

        def shift(operators: list[Any]) -> list[Any]:
            k = folder.placing(operators, frame, place)
            numbers = [float(value) for value in operators[k].operands]
            numbers[4:] = np.array(numbers[4:]) + step
            operators[k] = matrix_op(numbers)
            return operators

        folder.page(frame, shift)
    if "svg" in folder.targets:

        def shift_rings(root: etree._Element) -> None:
            for path in rings(root, place):
                write_points(path, points(path) + step * (1, -1))

        folder.svg(frame, shift_rings)
    if folder.bend:
        place["x_mm"], place["y_mm"] = place["x_mm"] + step[0], place["y_mm"] + step[1]


def mark_missing(folder: Folder) -> None:
    """A mark left out."""
    frame = folder.frame()
    mark = frame["marks"][folder.rng.integers(len(frame["marks"]))]
    number = mark["mark"]
    at = np.array([mark["x_mm"] - folder.summary["page_x0_mm"], mark["y_mm"] - frame["y0_mm"]])
    folder.names += [
        f"mark {number}",
        f"x {mark['x_mm']:.2f}, y {mark['y_mm']:.2f} mm",
        f"frame {frame['index']}",
    ]
    if "pdf" in folder.targets:
        folder.page(frame, lambda operators: _without_fill(operators, at))
    if "svg" in folder.targets:

        def drop(root: etree._Element) -> None:
            for path in list(root.iter(f"{SVG}path")):
                own = path.get("data-mark")
                if own == str(number):
                    path.getparent().remove(path)
                elif folder.bend and own is not None and int(own) > number:
                    path.set("data-mark", str(int(own) - 1))

        folder.svg(frame, drop)
    if folder.bend:
        frame["marks"].remove(mark)
        for other in frame["marks"]:
            other["mark"] -= other["mark"] > number


def _without_fill(operators: list[Any], at: np.ndarray) -> list[Any]:
    """Operators less the filled path whose middle is nearest to a place."""
    start, spans = None, []
    for k, each in enumerate(operators):
        name = str(each.operator)
        if name in ("m", "re") and start is None:
            start = k
        elif name in ("f", "f*", "F") and start is not None:
            path = [op for op in operators[start:k] if str(op.operator) in ("m", "l")]
            xy = np.array([[float(v) for v in op.operands] for op in path])
            off = np.hypot(*((xy.min(axis=0) + xy.max(axis=0)) / 2 - at))
            spans.append((off, start, k + 1))
            start = None
        elif name in ("S", "n", "Do"):
            start = None
    _, first, end = min(spans)
    return operators[:first] + operators[end:]


def copy_missing(folder: Folder) -> None:
    """A copy left out."""
    frame = folder.frame()
    place = folder.copy(frame)
    folder.named(place)
    lost_mm = 0.0
    if "pdf" in folder.targets:

        def drop(operators: list[Any]) -> list[Any]:
            k = folder.placing(operators, frame, place)
            return operators[: k - 1] + operators[k + 3 :]  # q cm Do Q

        folder.page(frame, drop)
    if "svg" in folder.targets:

        def drop_rings(root: etree._Element) -> None:
            nonlocal lost_mm
            for path in rings(root, place):
                xy = points(path)
                lost_mm += float(np.hypot(*(np.roll(xy, -1, axis=0) - xy).T).sum())
                path.getparent().remove(path)

        folder.svg(frame, drop_rings)
    if folder.bend:
        frame["placements"].remove(place)
        folder.decal(place["decal"])["planned"] -= 1
        folder.decal(place["decal"])["ordered"] -= 1
        folder.summary["nest"]["copies"] -= 1
        folder.summary["cut"]["contours"] -= 1
        folder.summary["cut"]["length_mm"] -= lost_mm


def sheet_scaled(folder: Folder) -> None:
    """Everything of a frame half a percent too large."""
    frame = folder.frame()
    folder.names.append(f"page {frame['index']}, the whole page")
    folder.names.append(f"cut-{frame['index']:02d}.svg, the whole layer")
    length = frame["length_mm"]
    if "pdf" in folder.targets:

        def grow(operators: list[Any]) -> list[Any]:
            first = matrix_op([SCALE, 0, 0, SCALE, 0, 0])
            around = [ContentStreamInstruction([], Operator(name)) for name in ("q", "Q")]
            return [around[0], first, *operators, around[1]]

        folder.page(frame, grow)
    if "svg" in folder.targets:

        def grow_rings(root: etree._Element) -> None:
            for path in root.iter(f"{SVG}path"):
                whole = path.get("d").split("Z")
                assert len(whole) == 2, "one ring a path"
                xy = points(path)
                up = (length - xy[:, 1]) * SCALE
                write_points(path, np.column_stack([xy[:, 0] * SCALE, length - up]))

        folder.svg(frame, grow_rings)
    if folder.bend:
        x0 = folder.summary["page_x0_mm"] if "pdf" in folder.targets else 0.0
        for each in [*frame["placements"], *frame["marks"]]:
            each["x_mm"] = x0 + (each["x_mm"] - x0) * SCALE
            each["y_mm"] = frame["y0_mm"] + (each["y_mm"] - frame["y0_mm"]) * SCALE


def decal_scaled(folder: Folder) -> None:
    """One decal, in all its copies, half a percent too large."""
    number = folder.copy(folder.frame())["decal"]
    name = folder.decal(number)["name"]
    folder.names.append(name)
    for frame in folder.summary["frames"]:
        copies = [place for place in frame["placements"] if place["decal"] == number]
        if copies and "pdf" in folder.targets:

            def grow(operators: list[Any], frame=frame, copies=copies) -> list[Any]:
                for place in copies:
                    k = folder.placing(operators, frame, place)
                    numbers = np.array([float(value) for value in operators[k].operands])
                    numbers[:4] *= SCALE
                    operators[k] = matrix_op(numbers.tolist())
                return operators

            folder.page(frame, grow)
        if copies and "svg" in folder.targets:

            def grow_rings(root: etree._Element, frame=frame, copies=copies) -> None:
                for place in copies:
                    centre = svg_centre(folder, frame, place)
                    for path in rings(root, place):
                        write_points(path, centre + (points(path) - centre) * SCALE)

            folder.svg(frame, grow_rings)
    if folder.bend:
        decal = folder.decal(number)
        decal["contour"] = [[[x * SCALE, y * SCALE] for x, y in ring] for ring in decal["contour"]]
        for key, power in (("width_mm", 1), ("height_mm", 1), ("area_mm2", 2)):
            decal[key] *= SCALE**power


def hole_lost(folder: Folder) -> None:
    """A hole left out: in all prints of a decal, in the cut of one copy (of all, when bent)."""
    with_holes = [
        n for n, decal in enumerate(folder.summary["decals"], 1) if len(decal["contour"]) > 1
    ]
    number = with_holes[folder.rng.integers(len(with_holes))]
    decal = folder.decal(number)
    frames = [
        f for f in folder.summary["frames"] if any(p["decal"] == number for p in f["placements"])
    ]
    victim_frame = frames[folder.rng.integers(len(frames))]
    victim = folder.copy(victim_frame, number)
    everywhere = folder.bend or "pdf" in folder.targets
    folder.names.append(decal["name"] if everywhere else folder.named(victim))
    if "pdf" in folder.targets:
        folder.pdf(lambda pdf: _fill_hole(pdf, number))
    if "svg" in folder.targets:
        for frame in frames if everywhere else [victim_frame]:
            copies = [p for p in frame["placements"] if p["decal"] == number]

            def fill(root: etree._Element, copies=copies) -> None:
                for place in copies if everywhere else [victim]:
                    paths = rings(root, place)
                    least = min(paths, key=lambda path: np.ptp(points(path), axis=0).sum())
                    least.getparent().remove(least)

            folder.svg(frame, fill)
    if folder.bend:
        areas = [_area(np.array(ring)) for ring in decal["contour"]]
        k = int(np.argmin(np.abs(areas)))
        decal["area_mm2"] += abs(areas[k])
        del decal["contour"][k]


def _area(ring: np.ndarray) -> float:
    x, y = ring.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def _fill_hole(pdf: pikepdf.Pdf, number: int) -> None:
    """Take the smallest ring out of the clip of a decal's form."""
    form = _form(pdf, number)
    operators = list(pikepdf.parse_content_stream(form))
    clip = next(k for k, each in enumerate(operators) if str(each.operator) in ("W", "W*"))
    starts = [k for k in range(clip) if str(operators[k].operator) == "m"] + [clip]
    spans = []
    for first, end in pairwise(starts):
        ring = [op for op in operators[first:end] if str(op.operator) in ("m", "l")]
        xy = np.array([[float(value) for value in op.operands] for op in ring])
        spans.append((np.ptp(xy, axis=0).sum(), first, end))
    _, first, end = min(spans)
    form.write(pikepdf.unparse_content_stream(operators[:first] + operators[end:]))


def _form(pdf: pikepdf.Pdf, number: int) -> pikepdf.Object:
    for page in pdf.pages:
        for name, form in page.Resources.XObject.items():
            if name == f"/Decal{number}":
                return form
    raise LookupError(f"no form for decal {number}")


def turned(folder: Folder) -> None:
    """A copy turned by a degree about its centre."""
    frame = folder.frame()
    place = folder.copy(frame)
    folder.named(place)
    way = TURN_DEG if folder.rng.integers(2) else -TURN_DEG
    c, s = cos(radians(way)), sin(radians(way))
    if "pdf" in folder.targets:

        def turn(operators: list[Any]) -> list[Any]:
            k = folder.placing(operators, frame, place)
            numbers = np.array([float(value) for value in operators[k].operands])
            linear = numbers[:4].reshape(2, 2) @ np.array([[c, s], [-s, c]])
            operators[k] = matrix_op([*linear.ravel().tolist(), *numbers[4:].tolist()])
            return operators

        folder.page(frame, turn)
    if "svg" in folder.targets:

        def turn_rings(root: etree._Element) -> None:
            centre = svg_centre(folder, frame, place)
            for path in rings(root, place):  # y points down: the other way round
                xy = (points(path) - centre) @ np.array([[c, -s], [s, c]])
                write_points(path, centre + xy)

        folder.svg(frame, turn_rings)
    if folder.bend:
        place["angle_deg"] = (place["angle_deg"] + way) % 360


def copies_swapped(folder: Folder) -> None:
    """Art and cut exchanged between a copy of one decal and a copy of another."""
    frames = [f for f in folder.summary["frames"] if len({p["decal"] for p in f["placements"]}) > 1]
    frame = frames[folder.rng.integers(len(frames))]
    one = folder.copy(frame)
    others = [p for p in frame["placements"] if p["decal"] != one["decal"]]
    other = others[folder.rng.integers(len(others))]
    folder.named(one)
    folder.named(other)
    if "pdf" in folder.targets:

        def exchange(operators: list[Any]) -> list[Any]:
            a, b = (folder.placing(operators, frame, place) + 1 for place in (one, other))
            operators[a], operators[b] = operators[b], operators[a]
            return operators

        folder.page(frame, exchange)
    if "svg" in folder.targets:

        def exchange_labels(root: etree._Element) -> None:
            pair = rings(root, one), rings(root, other)
            for paths, place in zip(pair, (other, one), strict=True):
                for path in paths:
                    path.set("data-decal", str(place["decal"]))
                    path.set("data-copy", str(place["copy"]))

        folder.svg(frame, exchange_labels)
    if folder.bend:
        for key in ("decal", "copy"):
            one[key], other[key] = other[key], one[key]


def art_swapped(folder: Folder) -> None:
    """The art of two decals exchanged under their clips; with the cut: its labels too."""
    numbers = sorted({p["decal"] for f in folder.summary["frames"] for p in f["placements"]})
    one, other = folder.rng.choice(numbers, 2, replace=False).tolist()
    folder.names += [folder.decal(one)["name"], folder.decal(other)["name"]]

    def exchange(pdf: pikepdf.Pdf) -> None:
        forms = _form(pdf, one), _form(pdf, other)
        arts = [form.Resources.XObject for form in forms]
        boxes = [_art_box(form) for form in forms]
        for k, form in enumerate(forms):
            form.Resources.XObject = arts[1 - k]
            _lay(form, boxes[k], arts[1 - k])

    folder.pdf(exchange)


def _art_box(form: pikepdf.Object) -> tuple[float, float, float, float]:
    """Where the art's own box lies on the decal."""
    operators = list(pikepdf.parse_content_stream(form))
    k = next(k for k, each in enumerate(operators) if str(each.operator) == "Do") - 1
    a, _, _, d, e, f = (float(value) for value in operators[k].operands)
    art = next(iter(form.Resources.XObject.values()))
    left, bottom, right, top = (float(value) for value in art.BBox)
    return a * left + e, d * bottom + f, a * right + e, d * top + f


def _lay(
    form: pikepdf.Object, box: tuple[float, float, float, float], resources: pikepdf.Object
) -> None:
    """Lay the art on a box."""
    operators = list(pikepdf.parse_content_stream(form))
    k = next(k for k, each in enumerate(operators) if str(each.operator) == "Do")
    name, art = next(iter(resources.items()))
    left, bottom, right, top = (float(value) for value in art.BBox)
    a, d = (box[2] - box[0]) / (right - left), (box[3] - box[1]) / (top - bottom)
    operators[k - 1] = matrix_op([a, 0, 0, d, box[0] - a * left, box[1] - d * bottom])
    operators[k] = ContentStreamInstruction([pikepdf.Name(name)], Operator("Do"))
    form.write(pikepdf.unparse_content_stream(operators))


KINDS: dict[str, Callable[[Folder], None]] = {
    "moved": moved,
    "mark": mark_missing,
    "copy": copy_missing,
    "sheet": sheet_scaled,
    "scale": decal_scaled,
    "hole": hole_lost,
    "turned": turned,
    "swapped": copies_swapped,
    "art": art_swapped,  # print only: a cut line has no art
}


@dataclass(frozen=True, kw_only=True)
class Hurt:
    """What was done: words of which a finding must have one, and the files that were changed."""

    names: tuple[str, ...]
    files: tuple[str, ...]


def damage(path: Path, kind: str, target: str, *, bend: bool, seed: int) -> Hurt:
    """Do one damage to a folder."""
    targets = ("pdf", "svg") if target == "both" else (target,)
    folder = Folder(path=path, rng=np.random.default_rng(seed), targets=targets, bend=bend)
    KINDS[kind](folder)
    folder.finish()
    return Hurt(names=tuple(folder.names), files=tuple(dict.fromkeys(folder.files)))


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--bend", action="store_true", help="make the summary agree")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    hurt = damage(asked.folder, asked.kind, asked.target, bend=asked.bend, seed=asked.seed)
    sys.stdout.write(f"{asked.kind}: {', '.join(hurt.names)} in {', '.join(hurt.files)}\n")


if __name__ == "__main__":
    main()
