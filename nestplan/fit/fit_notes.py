"""What a person should hear about a frame: why its marks bear no verdict, what to look at."""

import numpy as np

from nestplan import figures
from nestplan.fit.choose import ROUGH_LEVEL
from nestplan.fit.fitted import Array, Fitted
from nestplan.fit.match import linear
from nestplan.fit.plan_folder import PlanFolder, PlannedFrame
from nestplan.fit.seen import Hides
from nestplan.fit.trouble import Trouble, names_of
from nestplan.job import Corrects

UNSEEN_MOST_MM = 5.0  # a mark that could be misread by more and nobody would know
ODD_SDS = 4.0  # a stretch so far from what the shop's figures expect is said


def unsafe(frame: PlannedFrame, fitted: Fitted) -> Trouble | None:
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
            f"measure {names_of(missing)} too"
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
        what=f"one of {names_of(sorted(names))} is some {off} off, and too few others tell which; "
        f"{chance}",
        do=f"measure {names_of(sorted(names))} again",
    )


def hidden(corrects: Corrects, hides: Hides) -> Trouble | None:
    """What a picture without a scale of its own cannot tell, and this cutter would not follow."""
    lost = {"size": ("none", "turn"), "perspective": ("none", "turn", "similarity")}
    if hides == "nothing" or corrects not in lost[hides]:
        return None
    what = "size" if hides == "size" else "stretch and skew"
    return Trouble(
        kind="cannot",
        what=f"the picture was measured by the marks themselves, so it hides the {what} of the "
        "print, and this cutter does not take that up by itself",
        do="scan the sheet on a flat bed with its resolution in the file, or measure the marks",
    )


def rough_photograph() -> Trouble:
    """A photograph shows that the cutter's own fit is not enough, but not by how much."""
    return Trouble(
        kind="cannot",
        what="the print is off by more than the cutter takes up, and a photograph hides too much "
        "of the print to correct the cut by",
        do="scan the sheet on a flat bed with its resolution in the file, or measure the marks",
    )


def notes(plan: PlanFolder, frame: PlannedFrame, fitted: Fitted, there: Array) -> tuple[str, ...]:
    """What a person should look at though there is a verdict."""
    notes = []
    missing = [int(n) for n in np.delete(frame.numbers, fitted.rows)]
    if missing:
        notes.append(f"{names_of(missing)} not measured: foretold from the others")
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
