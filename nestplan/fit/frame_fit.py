"""One frame from matched marks to its verdict and its cut file."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestplan import figures
from nestplan.fit.bad_marks import BadMarks, bad_marks, least_seen_mm
from nestplan.fit.choose import ROUGH_LEVEL, Choice, choose
from nestplan.fit.identify import Identity, Trouble
from nestplan.fit.maps import Map, Turn, fit_map, own_map, turned_back
from nestplan.fit.match import linear
from nestplan.fit.noise import Noise, residuals
from nestplan.fit.odds import Aim, Odds, odds
from nestplan.fit.plan_folder import PlanFolder, PlannedFrame
from nestplan.fit.recut import recut
from nestplan.fit.seen import Seen
from nestplan.fit.verdict import Judged, Verdict, judge

Array = NDArray[np.float64]

UNSEEN_MOST_MM = 5.0  # a mark that could be misread by more and nobody would know
ODD_SDS = 4.0  # a stretch so far from what the shop's figures expect is said


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What the marks of a frame say of its print.

    rows: of the frame's marks that were measured; printed_mm: (n, 2) where, in run coordinates,
    the sheet turned back; left_mm: (n, 2) what the fit leaves of it. noise: of this print, as
    uneven as it was found. aim: where print, cutter and corrected file go.
    """

    turn: Turn
    rows: NDArray[np.intp]
    printed_mm: Array
    left_mm: Array
    choice: Choice
    noise: Noise
    bad: BadMarks | None
    least_seen_mm: float
    aim: Aim

    def placed_mm(self, frame: PlannedFrame) -> Array:
        """(N, 2) marks as printed: measured, or foretold by the fit."""
        placed = self.cut.at(frame.marks_mm)
        placed[self.rows] = self.printed_mm
        return placed

    @property
    def cut(self) -> Map:
        """Where a corrected file puts things."""
        assert self.aim.cut is not None, "a fit has a corrected file in mind"
        return self.aim.cut


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Both:
    """The odds of the plan's own file and of the corrected one."""

    plan: Odds
    corrected: Odds


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameFit:
    """A frame's verdict. cut: the file to cut, None where nothing should be cut."""

    frame: PlannedFrame | None
    identity: Identity
    judged: Judged
    fitted: Fitted | None = None
    both: Both | None = None
    cut: bytes | None = None
    notes: tuple[str, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """In plain words."""
        return self.judged.verdict

    @property
    def odds(self) -> Odds | None:
        """Of the file that is to be cut, or would be."""
        if self.both is None:
            return None
        return self.both.plan if self.verdict == "cut it" else self.both.corrected


def fit_frame(
    plan: PlanFolder, seen: Seen, identity: Identity, reading_mm: float, frame: PlannedFrame | None
) -> FrameFit:
    """Judge a frame whose marks were matched, or say why it cannot be.

    frame: the one that the table names, for a trouble's page.
    """
    pairing = identity.pairing
    if identity.trouble is not None or pairing is None:
        assert identity.trouble is not None, "what was not matched says why"
        judged = _without_verdict(identity.trouble)
        return FrameFit(frame=frame, identity=identity, judged=judged, notes=identity.notes)
    frame = plan.frames[pairing.frame]
    order = np.argsort(pairing.planned)
    rows, there = pairing.planned[order], seen.points_mm[pairing.seen[order]]
    fitted = _fitted(plan, frame, rows, there, Noise(model=plan.model, reading_mm=reading_mm))
    trouble = _unsafe(frame, fitted)
    if trouble is not None:
        judged = _without_verdict(trouble)
        notes = identity.notes
        return FrameFit(frame=frame, identity=identity, judged=judged, fitted=fitted, notes=notes)
    return _judged(plan, frame, identity, fitted, there)


def _judged(
    plan: PlanFolder, frame: PlannedFrame, identity: Identity, fitted: Fitted, there: Array
) -> FrameFit:
    """Weigh the two files, and make the one that is to be cut."""
    noise, full, aim = fitted.noise, fitted.choice.full, fitted.aim

    def read_well() -> Odds:
        everything = np.arange(len(frame.numbers))
        return odds(frame, replace(noise, reading_mm=0.0), everything, full, aim)

    both = Both(
        plan=odds(frame, noise, fitted.rows, full, replace(aim, cut=None)),
        corrected=odds(frame, noise, fitted.rows, full, aim),
    )
    apart = aim.own.at(frame.places_mm) - fitted.cut.at(frame.places_mm)
    judged = judge(
        both.plan,
        both.corrected,
        read_well,
        limit=plan.chance_limit,
        gain_mm=float(np.hypot(*apart.T).max(initial=0.0)),
        file=frame.cut_name,
    )
    made = None
    if judged.verdict == "cut it":
        made = frame.svg
    elif judged.verdict == "cut it corrected":
        made = recut(frame, aim, fitted.placed_mm(frame))
    return FrameFit(
        frame=frame,
        identity=identity,
        judged=judged,
        fitted=fitted,
        both=both,
        cut=made,
        notes=(*identity.notes, *_notes(plan, frame, fitted, there)),
    )


def _fitted(
    plan: PlanFolder, frame: PlannedFrame, rows: NDArray[np.intp], there: Array, noise: Noise
) -> Fitted:
    planned = frame.marks_mm[rows]
    turn = turned_back(planned, there)
    bad = bad_marks(residuals("affine", noise, planned, turn.back(there)))
    sound = np.ones(len(rows), dtype=bool)
    if bad is not None and bad.named:
        sound[bad.rows[0]] = False  # the page shows the whole of what it is off
        turn = turned_back(planned[sound], there[sound])
    printed = turn.back(there)
    choice = choose(noise, planned[sound], there[sound], turn)
    full = residuals(choice.full, noise, planned, printed)
    cut = fit_map(choice.kind, planned[sound], printed[sound])
    believed = fit_map(choice.full, planned[sound], printed[sound])
    every = cut.at(frame.marks_mm)
    every[rows] = printed
    own = own_map(plan.model.corrects, frame.marks_mm, every)
    return Fitted(
        turn=turn,
        rows=rows,
        printed_mm=printed,
        left_mm=printed - cut.at(planned),
        choice=choice,
        noise=noise.grown(choice.factor),
        bad=bad,
        least_seen_mm=float(least_seen_mm(full).max()),
        aim=Aim(printed=believed, own=own, cut=cut),
    )


def _unsafe(frame: PlannedFrame, fitted: Fitted) -> Trouble | None:
    """Why the marks bear no verdict: too little checks them, or one does not go with the rest."""
    if fitted.least_seen_mm > UNSEEN_MOST_MM:
        missing = [int(n) for n in np.delete(frame.numbers, fitted.rows)]
        if not missing and np.isfinite(fitted.least_seen_mm):
            return Trouble(
                kind="again",
                what="the marks were read too roughly: one of them could be misread by more than "
                f"{figures.length(UNSEEN_MOST_MM, 0)} and nobody would know",
                do="measure every mark again, more finely",
            )
        do = (
            f"measure {_marks(missing)} too"
            if missing
            else "let the eye judge this frame: its marks are too few to check each other"
        )
        return Trouble(
            kind="cannot",
            what="too few marks: one of them could be misread by more than "
            f"{figures.length(UNSEEN_MOST_MM, 0)} and nobody would know",
            do=do,
        )
    bad = fitted.bad
    if bad is None:
        return None
    names = [int(frame.numbers[fitted.rows[row]]) for row in bad.rows]
    chance = f"on a sound print so odd a mark comes {_seldom(bad.chance)}"
    off = figures.length(bad.offset_mm, 1)
    if bad.named:
        return Trouble(
            kind="again",
            what=f"mark {names[0]} is {off} off against the others; {chance}",
            do=f"measure mark {names[0]} again; if it stays so, the mark itself is spoiled: leave "
            "its line out, and do not let the cutter read it",
        )
    return Trouble(
        kind="again",
        what=f"one of {_marks(sorted(names))} is some {off} off, and too few others tell which; "
        f"{chance}",
        do=f"measure {_marks(sorted(names))} again",
    )


def _without_verdict(trouble: Trouble) -> Judged:
    verdict: Verdict = "cannot be judged" if trouble.kind == "cannot" else "measure again"
    return Judged(verdict=verdict, why=trouble.what, do=trouble.do, chance=None)


def _notes(plan: PlanFolder, frame: PlannedFrame, fitted: Fitted, there: Array) -> tuple[str, ...]:
    """What a person should look at though there is a verdict."""
    notes = []
    missing = [int(n) for n in np.delete(frame.numbers, fitted.rows)]
    if missing:
        notes.append(f"{_marks(missing)} not measured: foretold from the others")
    full = fitted.choice.of(fitted.choice.full)
    if fitted.choice.full == "strips":
        notes.append(
            "the film bends between the rows of marks, which few marks can tell from a misread "
            "row: is this the plan's sheet?"
        )
    if full.chance < ROUGH_LEVEL:
        notes.append(
            f"the print is {figures.fixed(fitted.choice.factor, 1)} times as uneven as the shop's "
            "figures say, and that is counted: are they right, and is this the plan's sheet?"
        )
    odd = _odd_stretch(plan, frame, fitted, there)
    if odd:
        notes.append(odd)
    return tuple(notes)


def _odd_stretch(plan: PlanFolder, frame: PlannedFrame, fitted: Fitted, there: Array) -> str:
    """A stretch or skew that the shop's figures do not lead one to expect."""
    model, planned = plan.model, frame.marks_mm[fitted.rows]
    back = linear(planned, fitted.turn.back(there)) - np.eye(2)
    across, along, skew = 100 * back[0, 0], 100 * back[1, 1], 1000 * (back[0, 1] + back[1, 0])
    size = np.ptp(planned, axis=0)
    said = []
    for name, value, mean, sd, span, unit in (
        ("stretch across", across, model.across_percent, model.across_sd_percent, size[0], "%"),
        ("stretch along", along, model.along_percent, model.along_sd_percent, size[1], "%"),
        ("skew", skew, model.skew_mm_m, model.skew_sd_mm_m, size.min(), "mm/m"),
    ):
        own = fitted.noise.mark_mm / max(span, 1.0) * (100 if unit == "%" else 1000)
        if abs(value - mean) > ODD_SDS * float(np.hypot(sd, own)) and abs(value) * span > 20:
            said.append(f"{name} {figures.fixed(value, 2)} {unit}")
    if not said:
        return ""
    return (
        f"{' and '.join(said)}: more than the shop's figures expect; measure the printed 100 mm "
        "bars, and look whether this is the plan's sheet"
    )


def _seldom(chance: float) -> str:
    words = figures.chance(chance)
    return words if words.startswith("less") or "in" in words else f"in {words} of cases"


def _marks(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"mark {numbers[0]}"
    return f"marks {', '.join(str(n) for n in numbers[:-1])} and {numbers[-1]}"
