"""One frame from matched marks to its verdict and its cut file."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.bad_marks import bad_marks, least_seen_mm
from nestplan.fit.choose import choose
from nestplan.fit.fit_notes import hidden, notes, rough_photograph, unsafe
from nestplan.fit.fitted import Fitted
from nestplan.fit.identify import Identity
from nestplan.fit.maps import fit_map, own_map, turned_back
from nestplan.fit.noise import Noise, residuals
from nestplan.fit.odds import Aim, Odds, odds
from nestplan.fit.plan_folder import PlanFolder, PlannedFrame
from nestplan.fit.recut import recut
from nestplan.fit.seen import Seen
from nestplan.fit.trouble import Trouble
from nestplan.fit.verdict import Judged, Verdict, judge

Array = NDArray[np.float64]


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
    pairing, told = identity.pairing, (*identity.notes, *seen.notes)
    if identity.trouble is not None or pairing is None:
        assert identity.trouble is not None, "what was not matched says why"
        judged = _without_verdict(identity.trouble)
        return FrameFit(frame=frame, identity=identity, judged=judged, notes=told)
    frame = plan.frames[pairing.frame]
    order = np.argsort(pairing.planned)
    rows, there = pairing.planned[order], seen.points_mm[pairing.seen[order]]
    fitted = _fitted(plan, frame, rows, there, Noise(model=plan.model, reading_mm=reading_mm))
    trouble = unsafe(frame, fitted) or hidden(plan.model.corrects, seen.hides)
    if trouble is not None:
        judged = _without_verdict(trouble)
        return FrameFit(frame=frame, identity=identity, judged=judged, fitted=fitted, notes=told)
    return _judged(plan, frame, identity, fitted, seen, there)


def _judged(
    plan: PlanFolder,
    frame: PlannedFrame,
    identity: Identity,
    fitted: Fitted,
    seen: Seen,
    there: Array,
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
    if judged.verdict == "cut it corrected" and seen.hides == "perspective":
        judged = _without_verdict(rough_photograph())
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
        notes=(*identity.notes, *seen.notes, *notes(plan, frame, fitted, there)),
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


def _without_verdict(trouble: Trouble) -> Judged:
    verdict: Verdict = "cannot be judged" if trouble.kind == "cannot" else "measure again"
    return Judged(verdict=verdict, why=trouble.what, do=trouble.do, chance=None)
