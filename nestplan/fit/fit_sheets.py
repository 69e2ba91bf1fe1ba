"""The whole fit: a plan's folder and one file of measured marks, frame by frame."""

from dataclasses import dataclass
from math import hypot
from pathlib import Path

from nestplan.faults import Fault
from nestplan.figures import count
from nestplan.fit.frame_fit import FrameFit, fit_frame
from nestplan.fit.identify import identify
from nestplan.fit.noise import Noise
from nestplan.fit.picture import is_picture, read_picture
from nestplan.fit.plan_folder import PlanFolder, read_plan_folder
from nestplan.fit.seen import Measured, Seen
from nestplan.fit.table import read_table
from nestplan.fit.trouble import Layout
from nestplan.fit.verdict import EXIT_CODE, Verdict, gravest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What the measured marks say of the print. frames: as far as sheets were measured."""

    plan: PlanFolder
    measured: Measured
    frames: tuple[FrameFit, ...]
    version: str

    @property
    def verdict(self) -> Verdict:
        """The gravest of the frames'."""
        return gravest([each.verdict for each in self.frames])

    @property
    def exit_code(self) -> int:
        """0: cut; 1: a person must act; 3: cannot be judged."""
        return EXIT_CODE[self.verdict]

    @property
    def unmeasured(self) -> tuple[int, ...]:
        """Frames of the plan that the file says nothing of."""
        there = {each.frame.index for each in self.frames if each.frame is not None}
        return tuple(f.index for f in self.plan.frames if f.index not in there)


def fit_sheets(folder: Path, measured: Path, *, frame: int | None, version: str) -> Fit:
    """Read, match, fit and judge. frame: the one that was measured, where the file is silent.

    raises: Fault, Faults where plan or measurement cannot be read.
    """
    return fit_plan(read_plan_folder(folder), measured, frame=frame, version=version)


def fit_plan(plan: PlanFolder, measured: Path, *, frame: int | None, version: str) -> Fit:
    """The same for a plan that was read before."""
    indexes = [each.index for each in plan.frames]
    if frame is not None and frame not in indexes:
        raise Fault(
            what=f"the plan has no frame {frame}, it has {count(len(indexes), 'frame')}",
            where=f"--frame {frame}",
            do=f"name a frame from 1 to {len(indexes)}",
        )
    read = read_picture(measured, plan, frame) if is_picture(measured) else read_table(measured)
    sheets = [sheet for sheet in read.sheets if frame is None or sheet.frame in (None, frame)]
    if not sheets:
        raise Fault(
            what=f"the table holds no mark of frame {frame}",
            where=str(measured),
            do="name a frame that was measured, or leave --frame out",
        )
    layouts = [
        Layout(index=each.index, numbers=tuple(each.numbers.tolist()), marks_mm=each.marks_mm)
        for each in plan.frames
    ]
    fits = []
    for sheet in sheets:
        asked = sheet.frame or frame
        _known(plan, sheet, asked, measured)
        reading = hypot(
            plan.model.sensor_noise_mm if sheet.sd_mm is None else sheet.sd_mm, sheet.rounding_mm
        )
        noise = Noise(model=plan.model, reading_mm=reading)
        identity = identify(sheet, layouts, noise, asked=asked, declared=read.declared)
        named = next((each for each in plan.frames if each.index == asked), None)
        fits.append(fit_frame(plan, sheet, identity, reading, named))
    _apart(fits, measured)
    return Fit(plan=plan, measured=read, frames=tuple(fits), version=version)


def _known(plan: PlanFolder, sheet: Seen, asked: int | None, path: Path) -> None:
    """Frames and marks that the table names must be those of the plan."""
    frame = next((each for each in plan.frames if each.index == asked), None)
    if asked is not None and frame is None:
        raise Fault(
            what=f"the plan has no frame {asked}, it has {count(len(plan.frames), 'frame')}",
            where=str(path),
            do="look whether this is the plan's sheet, and number frames as the proof does",
        )
    strange = [
        mark
        for mark in sheet.marks.tolist()
        if mark and frame is not None and mark not in frame.numbers
    ]
    if frame is not None and strange:
        raise Fault(
            what=f"frame {frame.index} has no mark {strange[0]}, it has "
            f"{count(len(frame.numbers), 'mark')}",
            where=str(path),
            do="look whether this is the plan's sheet, and number marks as the proof does",
        )


def _apart(fits: list[FrameFit], path: Path) -> None:
    """No two sheets may be the same frame."""
    taken: set[int] = set()
    for each in fits:
        if each.fitted is None or each.frame is None:
            continue
        if each.frame.index in taken:
            raise Fault(
                what=f"two sheets of the table are both frame {each.frame.index}",
                where=str(path),
                do="name the frames in the table, or hand the sheets in one by one",
            )
        taken.add(each.frame.index)
