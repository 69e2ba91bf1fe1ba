"""summary.json: every figure of a plan, for programs and for the check.

Keys never change their meaning; later versions only add. Lengths are rounded to
0.000001 mm and angles to 1e-9 degree, far below what any machine steps, so that the
file says the same on every machine. Money is decimal text, never a float.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from hashlib import sha256
from math import hypot
from typing import Any

import numpy as np

from nestplan.artwork import Decal, Remnant
from nestplan.clock import CutProfile, PrintProfile
from nestplan.cut import Extras
from nestplan.files.material import material
from nestplan.files.plan_id import digest_of, plan_id
from nestplan.files.run import Run
from nestplan.geometry.outline import Outline, turn
from nestplan.job.profile import Profile
from nestplan.marks import Frame, Worth
from nestplan.nest import Carried, Placements, Strip
from nestplan.trade import Trade

SCHEMA = 1
SUMMARY = "summary.json"
LENGTH_DECIMALS = 6
ERROR_DECIMALS = 4
ANGLE_DECIMALS = 9
LINE_MOST = 110  # characters; a value that fits stands on one line


def summary(run: Run, digests: Mapping[str, str]) -> bytes:
    """The summary in UTF-8, its keys always in the same order, a line feed at its end.

    digests: sha256 of every other file of the plan, hex, by name.
    """
    return (_laid_out(contents(run, digests)) + "\n").encode()


def run_digest(run: Run) -> str:
    """What tells this plan from all others, hex; known before any file is."""
    return digest_of(contents(run, {}))


def contents(run: Run, digests: Mapping[str, str]) -> dict[str, Any]:
    """What the summary says, as plain lists and dictionaries.

    nest.used_percent is the area inside all planned contours (holes taken off), or the backings
    round them, over the whole film used: its width times the length from leading edge to the
    end of the tail, margins, leads, marks and gaps counted in. waste_percent is the rest to 100.
    """
    said = {
        "schema": SCHEMA,
        "job": run.job.order.name,
        "plan": "",  # known last, for it tells this plan from all others
        "version": run.version,
        "seed": run.seed,
        "steps": run.steps,
        "workers": run.workers,
        "inputs": _inputs(run),
        "files": dict(sorted(digests.items())),
        "roll": _roll(run),
        **_remnant(run.artwork.remnant),
        **({} if run.again is None else {"again": {"plan": run.again}}),
        "page_x0_mm": _mm(run.page_x0_mm),
        "decals": _decals(run),
        "nest": _nest(run),
        "frames": [_frame(run, frame) for frame in run.marks.frames],
        "marks": {
            "spacing_mm": _mm(run.marks.spacing_mm),
            "shape": run.marks.shape,
            "size_mm": _mm(run.marks.size_mm),
            "clear_mm": _mm(run.marks.clear_mm),
            **_errors(run),
            **_placement(run),
        },
        "cut": {
            "contours": run.cut.contours,
            "length_mm": _mm(run.cut.length_mm),
            "travel_mm": _mm(run.cut.travel_mm),
            "travel_bound_mm": _mm(run.cut.travel_bound_mm),
            "time_s": _mm(run.times.cut_s),
            **_extras(run),
            **_timing(run.times.cutting),
        },
        "print": {
            "time_s": _mm(run.times.print_s),
            "mode": run.times.print_mode,
            **_timing(run.times.printing),
        },
        "setups": _setups(run),
        "cost": _cost(run),
        **_aim(run.trade),
        "notes": [
            {"level": note.level, "where": note.where, "text": note.text} for note in run.notes
        ],
    }
    return said | {"plan": plan_id(digest_of(said))}


def _extras(run: Run) -> dict[str, Any]:
    """What the cut has beyond its contours, or less; nothing where it is contours alone."""
    more = run.cut.extras
    if more == Extras():
        return {}
    said: dict[str, Any] = {"strokes": sum(len(frame.strokes) for frame in run.cut.frames)}
    if more.overcut_mm:
        said["overcut_mm"] = _mm(more.overcut_mm)
    if more.tab_mm:
        said["tabs"] = {"count": more.tabs, "width_mm": _mm(more.tab_mm)}
    if more.weed_lines:
        said["weed"] = {"lines": more.weed_lines, "length_mm": _mm(more.weed_mm)}
    if more.shared_mm:
        said["shared_mm"] = _mm(more.shared_mm)
    return said


def _timing(profile: CutProfile | PrintProfile | None) -> dict[str, Any]:
    """What the machines are asked, apart from their speeds: to time the run anew."""
    return {} if profile is None else {"timing": {k: _six(v) for k, v in asdict(profile).items()}}


def _six(value: float | tuple[float, ...]) -> float | list[float]:
    """Six digits, more than any stopwatch has."""
    if isinstance(value, tuple):
        return [float(f"{each:.6g}") for each in value]
    return float(f"{value:.6g}")


def _inputs(run: Run) -> dict[str, Any]:
    """Job and shop with the keys their files have, defaults left out; art by path."""
    return {
        "job_file": run.job.path.name,
        "job": run.job.order.model_dump(mode="json", exclude_unset=True, by_alias=True),
        "shop": run.job.shop.model_dump(mode="json", exclude_unset=True),
        "art": {decal.source: decal.digest for decal in run.artwork.decals},
        **_row_files(run),
        **_profile(run.job.profile),
        **_stock(run),
    }


def _row_files(run: Run) -> dict[str, Any]:
    """Files of rows by path; nothing where no decal has any."""
    tables = [decal.row_table for decal in run.artwork.decals if decal.row_table is not None]
    return {"rows": {table.source: table.digest for table in tables}} if tables else {}


def _profile(profile: Profile | None) -> dict[str, Any]:
    """The output profile that the shop names; nothing where it names none."""
    if profile is None:
        return {}
    return {"profile": {profile.source: sha256(profile.data).hexdigest()}}


def _stock(run: Run) -> dict[str, Any]:
    """The piece of the stock as it is when the run begins; nothing where there is no stock."""
    job = run.job
    if job.piece is None:
        return {}
    return {
        "stock": {
            "piece": job.piece,
            "movement": job.piece_no,  # another run of the same job is another plan
            "left_m": _mm(job.roll.left_m),
            "avoid_m": [[_mm(a), _mm(b)] for a, b in job.roll.avoid_m],
            **({} if job.laminate_piece is None else {"laminate": job.laminate_piece}),
        }
    }


def _roll(run: Run) -> dict[str, Any]:
    width, used = run.job.roll.width_mm, run.marks.length_used_mm
    return {
        "name": run.job.roll.name,
        "width_mm": _mm(width),
        "length_used_mm": _mm(used),
        "area_used_m2": _mm(width * used / 1e6),
    }


def _remnant(remnant: Remnant | None) -> dict[str, Any]:
    """The film that the run starts on, in run coordinates; nothing where it is whole."""
    if remnant is None:
        return {}
    return {
        "start_on": {
            "drawing": {remnant.source: remnant.digest},
            "end_mm": _mm(remnant.end_mm),
            "outline": _rings(remnant.outline),
        }
    }


def _decals(run: Run) -> list[dict[str, Any]]:
    planned = run.nest.planned
    return [
        _decal(decal, copies, overs)
        for decal, copies, overs in zip(
            run.artwork.decals, planned, run.overs or (0,) * len(planned), strict=True
        )
    ]


def _decal(decal: Decal, planned: int, overs: int) -> dict[str, Any]:
    """Rings about the centre of the contour, which is not that of a backing round it."""
    decal = decal.upright
    x, y = _centre(decal)
    backing = decal.backing
    return {
        "name": decal.name,
        "ordered": decal.quantity,
        "planned": planned,
        **({"overs": overs} if overs else {}),
        "width_mm": _mm(decal.contour.width_mm),
        "height_mm": _mm(decal.contour.height_mm),
        "area_mm2": _mm(decal.contour.area_mm2),
        "cut": decal.cut,
        "bleed_mm": _mm(decal.bleed_mm),
        "contour": _rings(decal.contour.moved(-x, -y)),
        **({} if backing is None else {"backing": _rings(backing.moved(-x, -y))}),
        "faults": [
            {
                "kind": fault.kind,
                "level": fault.level,
                "x_mm": _mm(fault.x_mm - x),
                "y_mm": _mm(fault.y_mm - y),
                "size_mm": _mm(fault.size_mm),
                "where": fault.where,
                "text": fault.text,
            }
            for fault in decal.faults
        ],
        "picture_dpi": None if decal.picture_dpi is None else round(decal.picture_dpi, 1),
        **_white(decal),
        **({"rows": [dict(row.values) for row in decal.rows]} if decal.rows else {}),
        **({"numbers": list(decal.numbers)} if decal.numbers else {}),
        **({"for": decal.recipient} if decal.recipient is not None else {}),
    }


def _white(decal: Decal) -> dict[str, Any]:
    """White of a copy; of a numbered decal the area is the mean. Nothing where there is none."""
    if decal.white is None:
        return {}
    return {
        "white": {
            "order": decal.white.order,
            "choke_mm": _mm(decal.white.choke_mm),
            "area_mm2": _mm(decal.white.area_mm2),
        }
    }


def _centre(decal: Decal) -> tuple[float, float]:
    """Centre of the contour's bounding box in decal coordinates."""
    if decal.backing is None:
        return 0.0, 0.0
    left, bottom, right, top = decal.contour.bounds_mm
    return (left + right) / 2, (bottom + top) / 2


def _centres(run: Run, places: Placements) -> list[list[float]]:
    """Where the centres of the copies' contours lie, run coordinates."""
    own = np.array([_centre(decal) for decal in run.artwork.decals])
    centres = places.centre_mm.copy()
    for row in np.flatnonzero(own[places.shape].any(axis=1)).tolist():
        centres[row] += turn(own[places.shape[row]], float(places.angle_deg[row]))
    found: list[list[float]] = centres.tolist()
    return found


def _rings(outline: Outline) -> list[list[list[float]]]:
    return [[[_mm(x), _mm(y)] for x, y in ring.tolist()] for ring in outline.rings]


def _nest(run: Run) -> dict[str, Any]:
    nest, film = run.nest, material(run)
    return {
        "length_mm": _mm(nest.length_mm),
        "bound_mm": _mm(nest.bound_mm),
        "bound_reason": nest.bound_reason,
        "gap_percent": _mm(nest.gap_percent),
        "copies": sum(len(strip.placements) for strip in nest.strips),
        "frames": len(nest.strips),
        "used_percent": _mm(film.used_percent),
        "waste_percent": _mm(film.waste_percent),
        "engine": nest.engine,
        "tried": [
            {
                "engine": tried.engine,
                "length_mm": None if tried.length_mm is None else _mm(tried.length_mm),
            }
            for tried in nest.tried
        ],
        **_carried(nest.carried),
    }


def _carried(carried: Carried | None) -> dict[str, Any]:
    """What became of a former plan's copies; nothing where there is none."""
    if carried is None:
        return {}
    return {
        "from_plan": {
            "copies": carried.before,
            "stayed": carried.stayed,
            "moved": carried.moved,
            "came": carried.came,
            "went": carried.went,
        }
    }


def _frame(run: Run, frame: Frame) -> dict[str, Any]:
    """A frame, its marks and its copies in run coordinates; decals are numbered from 1."""
    strip = run.nest.strips[frame.index - 1]
    errors = run.errors.frames[frame.index - 1]
    places = strip.placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
    rows = zip(
        places.shape.tolist(),
        strip.copy,
        _centres(run, places),
        places.angle_deg.tolist(),
        errors.p95_mm.tolist(),
        _anew(run, strip),
        strict=True,
    )
    return {
        "index": frame.index,
        "y0_mm": _mm(frame.y0_mm),
        "length_mm": _mm(frame.length_mm),
        "marks": [
            {
                "mark": mark.number,
                "x_mm": _mm(mark.x_mm),
                "y_mm": _mm(mark.y_mm),
                **({"inside": True} if mark.inside else {}),
            }
            for mark in frame.marks
        ],
        **_code(frame),
        "placements": [
            {
                "decal": decal + 1,
                "copy": copy,
                "x_mm": _mm(x),
                "y_mm": _mm(y),
                "angle_deg": round(angle, ANGLE_DECIMALS) % 360.0,
                "mirrored": run.artwork.decals[decal].mirrored,
                "error_p95_mm": _error(error),
                **({"row": copy} if run.artwork.decals[decal].rows else {}),
                **anew,
            }
            for decal, copy, (x, y), angle, error, anew in rows
        ],
    }


def _code(frame: Frame) -> dict[str, Any]:
    """Where the code of a frame stands, its quiet zone counted in; nothing where it has none."""
    if frame.slug.code_mm is None:
        return {}
    x, y, side = frame.slug.code_mm
    return {"code": {"x_mm": _mm(x), "y_mm": _mm(y), "side_mm": _mm(side)}}


def _anew(run: Run, strip: Strip) -> list[dict[str, bool]]:
    """Whether a former plan has no copy just there; said of such runs only."""
    if run.nest.carried is None:
        return [{}] * len(strip.placements)
    return [{"anew": row in strip.anew} for row in range(len(strip.placements))]


def _errors(run: Run) -> dict[str, Any]:
    """The predicted error and every figure of its model: enough to work it out anew."""
    errors = run.errors
    return {
        "error_p95_mm": _error(errors.p95_mm),
        "error_worst_mm": _error(errors.worst_mm),
        "bleed_least_mm": _error(errors.bleed_least_mm),
        "chance_outside_bleed": None if errors.chance is None else float(f"{errors.chance:.3g}"),
        "model": {
            **{key: _figure(value) for key, value in asdict(errors.model).items()},
            "chance_limit": errors.limit,
            "chance_draws": errors.chance_draws,
            "bleed_draws": errors.bleed_draws,
        },
    }


def _placement(run: Run) -> dict[str, Any]:
    """How near the bound each frame's marks are, what a bad mark would show, frames apart."""
    placement = run.marks.placement
    if placement is None:
        return {}
    model = run.errors.model
    scatter_mm = hypot(model.mark_noise_mm, model.distortion_mm)
    return {
        "placement": {
            "mistaken_chance": float(f"{placement.mistaken:.3g}"),
            "frames": [
                {
                    "named": named.sure,
                    "named_from_mm": _error(named.times_noise * scatter_mm)
                    if named.sure and named.times_noise is not None
                    else None,
                    **(_worth(worth) if worth else {}),
                }
                for named, worth in zip(placement.named, placement.worth, strict=True)
            ],
        }
    }


def _worth(worth: Worth) -> dict[str, Any]:
    return {
        "noise_bound": round(worth.noise_bound, ERROR_DECIMALS),
        "noise_best_percent": round(100 * worth.noise_best, 2),
        "noise_percent": round(100 * worth.noise_here, 2),
        "total_percent": round(100 * worth.total, 2),
        "even_percent": round(100 * (1 - worth.gain), 2),
        "marks_moved": worth.moved,
        "marks_more": worth.more,
    }


def _figure(value: float | str) -> float | str:
    return value if isinstance(value, str) else _mm(value)


def _error(value: float) -> float:
    """Rounded to a ten-thousandth of a millimetre: a prediction is good to a hundredth."""
    return round(value, ERROR_DECIMALS) + 0.0


def _setups(run: Run) -> dict[str, dict[str, Any]]:
    return {
        setup.name: {
            "print_s": _mm(setup.print_s),
            "handling_s": _mm(setup.handling_s),
            "lag_s": _mm(setup.lag_s),
            "cut_s": _mm(setup.cut_s),
            **({"laminate_s": _mm(setup.laminate_s)} if run.job.laminate else {}),
            "one_run_s": _mm(setup.one_run_s),
            **({} if setup.half_s is None else {"one_run_half_s": _mm(setup.half_s)}),
            "runs_per_shift": setup.runs_per_shift,
        }
        for setup in run.times.setups
    }


def _cost(run: Run) -> dict[str, Any]:
    cost = run.estimate
    return {
        "currency": cost.currency,
        "film": _money(cost.film),
        "ink": _money(cost.ink),
        "labour": _money(cost.labour),
        "machine": _money(cost.machine),
        "total": _money(cost.total),
        "per_decal": _money(cost.per_decal),
        "per_decal_by_name": {name: _money(each) for name, each in cost.per_decal_by_name},
    }


def _aim(trade: Trade | None) -> dict[str, Any]:
    """What could be chosen, which was, and what no plan beats; nothing where there is no aim."""
    if trade is None:
        return {}
    return {
        "aim": {
            "least": trade.aim,
            "chosen": trade.chosen + 1,
            "plans": [
                {
                    "print_width_mm": _mm(one.width_mm),
                    "mode": one.mode,
                    "resolution_dpi": _mm(one.resolution_dpi),
                    "frames": one.frames,
                    "length_used_mm": _mm(one.film_mm),
                    "print_s": _mm(one.print_s),
                    "cut_s": _mm(one.cut_s),
                    "one_run_s": _mm(one.run_s),
                    "total": _money(one.total),
                }
                for one in trade.options
            ],
            "bounds": {
                "length_used_mm": _mm(trade.least.film_mm),
                "one_run_s": _mm(trade.least.run_s),
                "total": _money(trade.least.total),
            },
            "widths_tried": trade.widths,
            "planned_in_full": trade.planned,
        }
    }


def _mm(value: float) -> float:
    """Rounded; the sum turns -0.0 into 0.0."""
    return round(value, LENGTH_DECIMALS) + 0.0


def _money(amount: Decimal) -> str:
    """Plain digits, never an exponent."""
    return f"{amount:f}"


def _laid_out(value: object, indent: int = 0) -> str:
    """JSON that a person can read and a diff can show: what fits stands on one line."""
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if (indent and len(flat) + indent <= LINE_MOST) or not isinstance(value, dict | list):
        return flat
    inner = " " * (indent + 1)
    if isinstance(value, dict):
        parts = [
            f"{json.dumps(key, ensure_ascii=False)}: {_laid_out(each, indent + 1)}"
            for key, each in value.items()
        ]
        opened, closed = "{", "}"
    else:
        parts = [_laid_out(each, indent + 1) for each in value]
        opened, closed = "[", "]"
    lines = f",\n{inner}".join(parts)
    return f"{opened}\n{inner}{lines}\n{' ' * indent}{closed}"
