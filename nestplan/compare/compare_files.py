"""compare.pdf and compare.json, in memory."""

import json
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from nestplan.compare.compare_pdf import compare_pdf
from nestplan.compare.comparison import Comparison
from nestplan.compare.on_setup import OnSetup

COMPARE = "compare.json"


def compare_files(comparison: Comparison) -> dict[str, bytes]:
    """The page and the JSON, which comes last."""
    files = {"compare.pdf": compare_pdf(comparison)}
    text = json.dumps(
        {**compare_json(comparison), "files": sorted(files)}, indent=1, ensure_ascii=False
    )
    return {**files, COMPARE: f"{text}\n".encode()}


def compare_json(comparison: Comparison) -> dict[str, Any]:
    """For programs; money as decimal strings, times in seconds."""
    return {
        "schema": 1,
        "job": comparison.job,
        "currency": comparison.currency,
        "version": comparison.version,
        "seed": comparison.seed,
        "steps": comparison.steps,
        "shift_h": comparison.shift_h,
        "ordered_copies": comparison.here[0].copies,
        "quantities": [
            {"copies": each[0].copies, "setups": [_setup(one) for one in each]}
            for each in comparison.by_copies
        ],
        "crossings": [asdict(each) for each in comparison.crossings],
        "overtakes": [asdict(each) for each in comparison.overtakes],
        "mix": [asdict(each) for each in comparison.mixes],
        "without": [{"setup": name, "why": why} for name, why in comparison.without],
    }


def _setup(one: OnSetup) -> dict[str, Any]:
    return {key: _plain(value) for key, value in asdict(one).items() if key != "copies"}


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, float):
        return round(value, 3)
    return list(value) if isinstance(value, tuple) else value
