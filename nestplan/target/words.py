"""What the command says: the figures with their intervals, what stays hidden, what to set."""

from pathlib import Path
from typing import Any

from nestplan.figures import count, fixed, short
from nestplan.target.figure import Told
from nestplan.target.layout import Target
from nestplan.target.new_shop import Changes
from nestplan.target.solve import DIFFERENCE, Measured

UNITS = {"percent": "%", "mm_m": "mm/m", "mm": "mm"}
# name, and what a positive and a negative figure mean
MEANING = {
    "offset_x_mm": ("offset x", "the cut lands to the right", "the cut lands to the left"),
    "offset_y_mm": (
        "offset y",
        "the cut lands toward the trailing edge",
        "the cut lands toward the leading edge",
    ),
    "scale_across_percent": ("scale across", "cuts wider than printed", "cuts narrower"),
    "scale_along_percent": ("scale along", "cuts longer than printed", "cuts shorter"),
    DIFFERENCE: (
        "along less across",
        "cuts longer along than across, beside the print",
        "cuts longer across than along, beside the print",
    ),
    "skew_mm_m": (
        "skew",
        "the cut drifts right toward the trailing edge",
        "the cut drifts left toward the trailing edge",
    ),
    "size_across_percent": ("print across", "printed wider than true", "narrower than true"),
    "size_along_percent": ("print along", "printed longer than true", "shorter than true"),
    "size_skew_mm_m": (
        "print skew",
        "the print drifts right toward the trailing edge",
        "the print drifts left toward the trailing edge",
    ),
}


def target_words(target: Target, folder: Path, files: list[str]) -> str:
    """A target that was written."""
    equipment = target.equipment
    head = (
        f"target {target.code} for {equipment.setup.name} on {equipment.roll.name}: "
        f"{count(len(target.stations), 'station')}, {count(len(target.marks), 'mark')}, "
        f"{short(target.page_width_mm)} by {short(target.length_mm)} mm"
    )
    return "\n".join(
        [
            head,
            "",
            f"{folder}: {', '.join(files)}",
            "Print it, cut it, read it as the guide says, fill in the table. Then:",
            f"nestplan target {equipment.shop_path} {folder / files[-1]}",
        ]
    )


def target_json(target: Target, folder: Path, files: list[str]) -> dict[str, Any]:
    """The same for programs."""
    return {
        "target": target.code,
        "setup": target.equipment.setup.name,
        "roll": target.equipment.roll.name,
        "folder": str(folder),
        "files": files,
        "width_mm": round(target.page_width_mm, 3),
        "length_mm": round(target.length_mm, 3),
        "stations": [
            {"station": each.number, "x_mm": each.x_mm, "y_mm": each.y_mm}
            for each in target.stations
        ],
        "tapes": [
            {"station": each.start, "to_station": each.end, "printed_mm": round(each.length_mm, 3)}
            for each in target.tapes
        ],
    }


def measured_words(target: Target, measured: Measured, changes: Changes, shop: Path) -> str:
    """What the readings tell."""
    equipment = target.equipment
    head = (
        f"{equipment.setup.name} on {equipment.roll.name}: "
        f"{count(measured.stations, 'station')} and "
        f"{count(measured.tapes, 'tape length')} read, 90 % intervals"
    )
    rows = [_row(each) for each in measured.told]
    rows.append(("one reading", fixed(measured.scatter_mm, 3), "", "mm", "standard deviation"))
    a, b, c, d = (max(len(row[at]) for row in rows) for at in range(4))
    lines = [
        f"  {name:<{a}}  {value:>{b}} {half:<{c}} {unit:<{d}}   {why}"
        for name, value, half, unit, why in rows
    ]
    hidden = [f"  {MEANING[each.key][0]}: not told; {each.why}" for each in measured.untold]
    notes = [f"  {note.level:<4}   {note.where}   {note.text}" for note in measured.notes]
    said = [head, "", *lines]
    said += ["", *hidden] if hidden else []
    said += ["", *notes] if notes else []
    return "\n".join([*said, "", *_set_it(measured, changes, shop)])


def _row(told: Told) -> tuple[str, str, str, str, str]:
    name, more, less = MEANING[told.key]
    decimals = 3 if told.key.endswith("percent") or told.half < 0.1 else 2
    low, high = told.range
    means = more if told.value > 0 else less
    if low <= 0 <= high:
        means = "nothing to be seen"
    return name, fixed(told.value, decimals), f"± {fixed(told.half, decimals)}", _unit(told), means


def _unit(told: Told) -> str:
    return next(unit for ending, unit in UNITS.items() if told.key.endswith(ending))


def _set_it(measured: Measured, changes: Changes, shop: Path) -> list[str]:
    lines = [f"{shop}: the old shop file with these figures under calibration."]
    carried = {each.key for each in measured.told if not each.range[0] <= 0 <= each.range[1]}
    if DIFFERENCE in carried:
        carried |= {"scale_along_percent", "scale_across_percent"}
    if carried:
        lines.append(
            "Until the machines are set, plans count them as known shifts. Set them on the "
            "machines, then write 0 there:"
        )
    for machine, known in changes.items():
        keys = [key for key in known if key in carried]
        if keys:
            lines.append(f"  {machine}: {', '.join(keys)}")
    return lines


def measured_json(
    target: Target, measured: Measured, changes: Changes, shop: Path
) -> dict[str, Any]:
    """The same for programs."""
    return {
        "target": target.code,
        "setup": target.equipment.setup.name,
        "roll": target.equipment.roll.name,
        "stations": measured.stations,
        "tapes": measured.tapes,
        "left_out": list(measured.left_out),
        "reading_sd_mm": round(measured.scatter_mm, 4),
        "figures": {
            each.key: {
                "value": round(each.value, 5) + 0.0,
                "sd": round(each.sd, 5),
                "low_90": round(each.range[0], 5) + 0.0,
                "high_90": round(each.range[1], 5) + 0.0,
            }
            for each in measured.told
        },
        "not_told": {each.key: each.why for each in measured.untold},
        "shop": str(shop),
        "calibration": changes,
        "notes": [
            {"level": note.level, "where": note.where, "text": note.text} for note in measured.notes
        ],
    }
