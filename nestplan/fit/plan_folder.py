"""A plan's folder, read as a stranger reads it: nothing but its summary and cut layers."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestplan.check.cut_layer import CutLayer, read_cut_layer
from nestplan.check.folder import cut_name, summary_bytes
from nestplan.check.said import SUMMARY, Said, SaidFrame, read_said
from nestplan.faults import Fault
from nestplan.geometry.outline import Outline, turn
from nestplan.marks import ErrorModel
from nestplan.marks.contour_points import points_and_bleed

Array = NDArray[np.float64]

AGAIN = "bring the files back as `nestplan plan` wrote them, or plan the job again"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedFrame:
    """A frame as planned, in run coordinates.

    numbers: (N,) of the marks, rising; marks_mm: (N, 2). places_mm: (n, 2) points round all
    contours; copy: (n,) whose they are, a row of `names` and of `labels` (decal and copy, from
    1); bleed_mm: (n,). svg: the cut layer.
    """

    index: int
    y0_mm: float
    length_mm: float
    numbers: NDArray[np.intp]
    marks_mm: Array
    places_mm: Array
    copy: NDArray[np.intp]
    names: tuple[str, ...]
    labels: tuple[tuple[int, int], ...]
    bleed_mm: Array
    layer: CutLayer
    svg: bytes

    @property
    def cut_name(self) -> str:
        """Its cut layer's file name."""
        return cut_name(self.index)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanFolder:
    """What a fit needs of a plan. digest: of its summary, sha256 in hex."""

    name: str
    job: str
    digest: str
    width_mm: float
    page_x0_mm: float
    model: ErrorModel
    chance_limit: float
    mark: "MarkLook"
    cutter: str
    frames: tuple[PlannedFrame, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkLook:
    """How a mark is printed. line_mm: width of the bars of a corner or a cross."""

    shape: str
    size_mm: float
    clear_mm: float
    line_mm: float


def read_plan_folder(folder: Path) -> PlanFolder:
    """Read summary and cut layers.

    raises: Fault where there is no plan, or where a file of it is not the one that was written.
    """
    data = summary_bytes(folder)
    said, wrong = read_said(data, str(folder / SUMMARY))
    if said is None:
        first = wrong[0]
        raise Fault(
            what=f"the summary of the plan is damaged: {first.found}, {first.meant}",
            where=str(folder / first.where),
            do=AGAIN,
        )
    files = _files(folder, said)
    model = ErrorModel(
        **{each.name: getattr(said.marks.model, each.name) for each in fields(ErrorModel)}
    )
    cutter, sensor = _cutter(json.loads(data))
    return PlanFolder(
        name=folder.resolve().name,
        job=said.job,
        digest=hashlib.sha256(data).hexdigest(),
        width_mm=said.roll.width_mm,
        page_x0_mm=said.page_x0_mm,
        model=model,
        chance_limit=said.marks.model.chance_limit,
        mark=MarkLook(
            shape=said.marks.shape,
            size_mm=said.marks.size_mm,
            clear_mm=said.marks.clear_mm,
            line_mm=float(sensor.get("line_mm", 1.0)),
        ),
        cutter=cutter,
        frames=tuple(
            _frame(said, frame, files[cut_name(frame.index)], model.distortion_length_mm)
            for frame in said.frames
        ),
    )


def _files(folder: Path, said: Said) -> dict[str, bytes]:
    """The files that are there, each held against its digest; every cut layer must be there."""
    files = {}
    for name in sorted({*said.files, *(cut_name(frame.index) for frame in said.frames)}):
        if Path(name).name != name:
            continue
        try:
            files[name] = (folder / name).read_bytes()
        except OSError as error:
            if name.startswith("cut-") and name.endswith(".svg"):
                raise Fault(
                    what=f"the plan lacks its cut layer {name}",
                    where=f"{folder / name}: {error.strerror or error}",
                    do=AGAIN,
                ) from error
            continue
        if hashlib.sha256(files[name]).hexdigest() != said.files.get(name, "").lower():
            raise Fault(
                what=f"{name} is not the file that was planned: its digest is another",
                where=str(folder / name),
                do=AGAIN,
            )
    return files


def _frame(said: Said, frame: SaidFrame, svg: bytes, length_mm: float) -> PlannedFrame:
    name = cut_name(frame.index)
    layer = read_cut_layer(svg, name, said, frame)
    if layer.against or not layer.read:
        raise Fault(
            what=f"the cut layer is not as planned: {layer.against[0].found}",
            where=layer.against[0].where,
            do=f"{AGAIN}; `nestplan check` lists all that is wrong",
        )
    marks = sorted(frame.marks, key=lambda mark: mark.mark)
    looked = [
        points_and_bleed(
            _outline(decal.contour),
            None if decal.backing is None else _outline(decal.backing),
            decal.bleed_mm,
            length_mm,
        )
        for decal in said.decals
    ]
    places = [
        turn(_mirrored(looked[each.decal - 1][0], each.mirrored), each.angle_deg)
        + (each.x_mm, each.y_mm)
        for each in frame.placements
    ]
    counts = [len(each) for each in places]
    return PlannedFrame(
        index=frame.index,
        y0_mm=frame.y0_mm,
        length_mm=frame.length_mm,
        numbers=np.array([mark.mark for mark in marks], dtype=np.intp),
        marks_mm=np.array([(mark.x_mm, mark.y_mm) for mark in marks]).reshape(-1, 2),
        places_mm=np.concatenate([np.zeros((0, 2)), *places]),
        copy=np.repeat(np.arange(len(places)), counts),
        names=tuple(said.copy_name(each.decal, each.copy_) for each in frame.placements),
        labels=tuple((each.decal, each.copy_) for each in frame.placements),
        bleed_mm=np.concatenate(
            [np.zeros(0), *(looked[each.decal - 1][1] for each in frame.placements)]
        ),
        layer=layer,
        svg=svg,
    )


def _outline(rings: Sequence[Sequence[tuple[float, float]]]) -> Outline:
    return Outline(rings=tuple(np.array(ring) for ring in rings))


def _mirrored(points: Array, mirrored: bool) -> Array:
    return points * (-1.0, 1.0) if mirrored else points


def _cutter(raw: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """The cutting machine's name and its sensor, as the shop file has them."""
    inputs = raw["inputs"]
    try:
        setup = next(s for s in inputs["shop"]["setup"] if s["name"] == inputs["job"]["setup"])
        name = str(setup["stages"][-1]["machine"])
        machine = next(m for m in inputs["shop"]["machine"] if m["name"] == name)
        return name, dict(machine.get("sensor", {}))
    except (LookupError, TypeError, StopIteration):
        return "cutter", {}
