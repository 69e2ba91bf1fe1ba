"""A new shop file beside the old one, with what was measured; comments and order are kept.

The old file is never touched, and no earlier calibration is overwritten.
"""

from math import sqrt
from typing import Any

import tomlkit
from tomlkit.items import InlineTable

from nestplan.job import Equipment, machines_of
from nestplan.job.shop_text import free_name, read_shop_text, shop_tables, shop_text
from nestplan.target.figure import Told
from nestplan.target.solve import DIFFERENCE, Measured

SPREADS = {
    "scale_along_percent": "scale_along_sd_percent",
    "scale_across_percent": "scale_across_sd_percent",
    "skew_mm_m": "skew_sd_mm_m",
}
DECIMALS = {"percent": 4, "mm_m": 3, "mm": 3}

Changes = dict[str, dict[str, float]]  # by machine and key of its calibration


def calibrated_shop(equipment: Equipment, measured: Measured) -> tuple[str, bytes, Changes]:
    """Name and text of the new shop file, and what it changes.

    raises: Fault where the old file cannot be read any more.
    """
    path = equipment.shop_path
    changes = changes_of(equipment, measured)
    document = read_shop_text(path)
    for table in shop_tables(document, "machine"):
        known = changes.get(str(table["name"]))
        if known:
            _write(table, known)
    return free_name(path, "calibrated"), shop_text(document).encode(), changes


def changes_of(equipment: Equipment, measured: Measured) -> Changes:
    """What the calibrations of printer and cutter become."""
    cutter, printer = equipment.cutter.name, equipment.printer.name
    told = {each.key: each for each in measured.told}
    changes: Changes = {cutter: {"age_days": 0.0}}
    offsets = [told[key] for key in ("offset_x_mm", "offset_y_mm") if key in told]
    for each in offsets:
        changes[cutter][each.key] = each.value
    if offsets:
        changes[cutter]["offset_sd_mm"] = max(each.sd for each in offsets)
    for key, spread in SPREADS.items():
        if key in told:
            changes[cutter][key] = told[key].value
            changes[cutter][spread] = told[key].sd
    if DIFFERENCE in told:
        changes[cutter] |= _halves(told[DIFFERENCE])
    sizes = {each.key: each.value for each in measured.told if each.key.startswith("size_")}
    of_printer = {**sizes, **_held_by_cutter(equipment, changes[cutter])}
    if of_printer and printer != cutter:
        changes[printer] = {"age_days": 0.0, **of_printer}
    elif of_printer:
        changes[cutter] |= of_printer
    return {
        machine: {key: _rounded(key, value) for key, value in known.items()}
        for machine, known in changes.items()
    }


def _halves(difference: Told) -> dict[str, float]:
    """A difference of scales as two scales that make it: what they share is taken up anyway."""
    return {
        "scale_along_percent": difference.value / 2,
        "scale_across_percent": -difference.value / 2,
        "scale_along_sd_percent": difference.sd / sqrt(2),
        "scale_across_sd_percent": difference.sd / sqrt(2),
    }


def _held_by_cutter(equipment: Equipment, known: dict[str, float]) -> dict[str, float]:
    """Spreads of the printer that the cutter's measured ones hold already.

    A printer that other cutters share keeps its own: of those nothing was measured.
    """
    printer, cutter = equipment.printer, equipment.cutter
    if printer == cutter or printer.calibration is None or shares_printer(equipment):
        return {}
    return {
        spread: 0.0
        for spread in SPREADS.values()
        if spread in known and getattr(printer.calibration, spread) > 0
    }


def shares_printer(equipment: Equipment) -> bool:
    """Whether another setup cuts this printer's work on another cutter."""
    pairs = (machines_of(equipment.shop, setup) for setup in equipment.shop.setup)
    return any(
        printer.name == equipment.printer.name and cutter.name != equipment.cutter.name
        for printer, cutter in pairs
    )


def _write(machine: Any, known: dict[str, float]) -> None:
    """Set keys of a machine's calibration, whichever way the file writes that table."""
    table = machine.get("calibration", tomlkit.table())
    if isinstance(table, InlineTable):  # made anew, or spaces would pile up before what is added
        fresh = tomlkit.inline_table()
        fresh.update(table.unwrap())
        table = fresh
    table.update({key: int(value) if key == "age_days" else value for key, value in known.items()})
    machine["calibration"] = table


def _rounded(key: str, value: float) -> float:
    """As many decimals as can be measured, and no minus before nothing."""
    ending = next((each for each in DECIMALS if key.endswith(each)), "mm")
    return round(value, DECIMALS[ending]) + 0.0
