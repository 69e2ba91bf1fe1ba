"""fit.json: every figure of a fit, for programs and for whoever asks later.

It names the plan it corrects by the digest of its summary. Same plan, same table: same bytes.
"""

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.fit_sheets import Fit
from nestplan.fit.fitted import Fitted
from nestplan.fit.frame_fit import FrameFit
from nestplan.fit.odds import Odds

SCHEMA = 1
FIT = "fit.json"
DECIMALS = 4


def fit_json(fit: Fit, digests: Mapping[str, str]) -> bytes:
    """The file in UTF-8. digests: sha256 of every other file of the fit, by name."""
    text = json.dumps(contents(fit, digests), indent=1, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def contents(fit: Fit, digests: Mapping[str, str]) -> dict[str, Any]:
    """What it says, as plain lists and dictionaries."""
    plan, measured = fit.plan, fit.measured
    return {
        "schema": SCHEMA,
        "version": fit.version,
        "plan": {"folder": plan.name, "job": plan.job, "summary_sha256": plan.digest},
        "measured": {
            "file": measured.name,
            "sha256": measured.digest,
            "kind": measured.kind,
            "y": "up" if measured.upward else "down",
        },
        "verdict": fit.verdict,
        "exit_code": fit.exit_code,
        "frames": [_frame(fit, each) for each in fit.frames],
        "frames_not_measured": list(fit.unmeasured),
        "files": dict(sorted(digests.items())),
    }


def _frame(fit: Fit, each: FrameFit) -> dict[str, Any]:
    identity, both = each.identity, each.both
    said: dict[str, Any] = {
        "index": each.frame.index if each.frame is not None else None,
        "verdict": each.verdict,
        "why": each.judged.why,
        "do": each.judged.do,
        "chance_outside_bleed": _share(each.judged.chance),
        "chance_limit": fit.plan.chance_limit,
        "notes": list(each.notes),
        "runner_up": (
            None
            if identity.odds_wrong is None
            else {"is": identity.runner_up, "chance": _share(identity.odds_wrong)}
        ),
    }
    if each.frame is not None and each.cut is not None:
        said["cut"] = {
            "file": each.frame.cut_name,
            "same_as_plan": each.verdict == "cut it",
            "mark_reading": "on" if fit.plan.model.corrects != "none" else "origin on mark 1",
            "cutter": fit.plan.cutter,
            "cutter_corrects": fit.plan.model.corrects,
        }
    if both is not None:
        said["plan_file"] = _odds(each, both.plan)
        said["corrected_file"] = _odds(each, both.corrected)
    if each.fitted is not None:
        said |= _fitted(each, each.fitted)
    return said


def _odds(each: FrameFit, odds: Odds) -> dict[str, Any]:
    assert each.frame is not None, "odds are those of a frame"
    return {
        "chance_outside_bleed": _share(odds.chance),
        "drawn": odds.drawn,
        "error_worst_mm": _mm(odds.p95_mm.max()),
        "worst": each.frame.names[odds.worst],
    }


def _fitted(each: FrameFit, fitted: Fitted) -> dict[str, Any]:
    assert each.frame is not None, "what was fitted is a frame"
    model, choice = fitted.noise.model, fitted.choice
    return {
        "turned_deg": round(fitted.turn.angle_deg, 6),
        "model": {
            "kind": choice.kind,
            "believed_at_most": choice.full,
            "test": "F test between fits, and chi-square of what a richer one gains, at 1 %",
            "tried": [
                {
                    "kind": tried.kind,
                    "figures": tried.figures,
                    "residual_square": round(tried.square, 4),
                    "dof": tried.dof,
                    "chance": _share(tried.chance),
                    "rms_mm": _mm(tried.rms_mm),
                    "beaten_by": tried.beaten_by,
                    "f": None if tried.f is None else round(tried.f, 4),
                    "f_chance": None if tried.f_chance is None else _share(tried.f_chance),
                }
                for tried in choice.tried
            ],
        },
        "noise": {
            "print_mm": _mm(model.print_noise_mm),
            "reading_mm": _mm(fitted.noise.reading_mm),
            "distortion_mm": _mm(model.distortion_mm),
            "times_the_shops": round(choice.factor, 4),
        },
        "least_misreading_seen_mm": (
            _mm(fitted.least_seen_mm) if np.isfinite(fitted.least_seen_mm) else None
        ),
        "doubted_marks": (
            []
            if fitted.bad is None
            else [int(each.frame.numbers[fitted.rows[row]]) for row in fitted.bad.rows]
        ),
        "marks": _marks(each, fitted),
    }


def _marks(each: FrameFit, fitted: Fitted) -> list[dict[str, Any]]:
    """Every mark in run coordinates, y from the leading edge of the film."""
    assert each.frame is not None, "what was fitted is a frame"
    rows = fitted.rows.tolist()
    said = []
    for row, number in enumerate(each.frame.numbers.tolist()):
        mark: dict[str, Any] = {"mark": number, "planned_mm": _point(each.frame.marks_mm[row])}
        if row in rows:
            at = rows.index(row)
            mark["printed_mm"] = _point(fitted.printed_mm[at])
            mark["left_mm"] = _point(fitted.left_mm[at])
        said.append(mark)
    return said


def _point(point: NDArray[np.float64]) -> list[float]:
    return [_mm(point[0]), _mm(point[1])]


def _mm(value: float | np.floating[Any]) -> float:
    return round(float(value), DECIMALS) + 0.0


def _share(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.3g}")
