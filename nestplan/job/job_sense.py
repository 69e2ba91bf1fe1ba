"""What is wrong with a job whose keys are right: names the shop lacks, artwork that lies
elsewhere, film that the machines of the setup do not take.
"""

from collections.abc import Iterator
from pathlib import Path, PureWindowsPath
from typing import Any

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import short
from nestplan.job.contour_sense import contour_faults
from nestplan.job.cut_sense import cut_wish_faults, no_weeding_tool
from nestplan.job.draft import Draft
from nestplan.job.job_file import DecalOrder
from nestplan.job.nearest import nearest
from nestplan.job.place import Keys
from nestplan.job.rates_sense import tape_faults
from nestplan.job.shop_file import Machine, Roll, Setup, Stage
from nestplan.job.shop_sense import same_names, unknown_name
from nestplan.job.shown import either, shown
from nestplan.job.white import mixed_white, white_faults


def job_faults(job: Draft) -> list[Fault]:
    """Faults of the job file that need no shop to be seen."""
    rows = job.rows("decal", DecalOrder)
    faults = list(same_names(job, "decal", rows))
    fill_with, names = job.text("fill_with"), [row.name for row in rows if row.name]
    if fill_with is not None and names and fill_with not in names:
        what, do = unknown_name("decal", fill_with, names, job.path.name)
        faults.append(job.fault(what, ("fill_with",), do))
    for row in rows:
        table = job.tables["decal"][row.at]
        if "width_mm" in table and "height_mm" in table:
            faults.append(
                job.fault(
                    f"width_mm is {shown(table['width_mm'])} and height_mm is "
                    f"{shown(table['height_mm'])}: art is not stretched",
                    ("decal", row.at, "height_mm"),
                    "delete one of them; it follows from the other",
                )
            )
        if isinstance(table.get("artwork"), str):
            fault = _inside(job, ("decal", row.at, "artwork"), table["artwork"])
            faults += [fault] if fault is not None else []
        for other, why in (
            ("from_plan", "copies that stay where a former plan has them"),
            ("start_on", "copies that are nested round film that is not there"),
        ):
            if table.get("keep_together") is True and job.text(other) is not None:
                faults.append(
                    job.fault(
                        f"{why} cannot be brought together too",
                        ("decal", row.at, "keep_together"),
                        f"delete keep_together here, or {other}",
                    )
                )
        faults += _copies_faults(job, row.at, table)
    faults += contour_faults(job)
    faults += cut_wish_faults(job)
    faults += mixed_white(job)
    if job.text("mode") is not None and "resolution_least_dpi" in job.tables:
        faults.append(
            job.fault(
                "mode and resolution_least_dpi stand together: the one names what the other leaves "
                "open",
                ("resolution_least_dpi",),
                "delete one of them",
            )
        )
    if job.text("aim") is not None and job.text("from_plan") is not None:
        faults.append(
            job.fault(
                "aim and from_plan stand together: copies that stay where a former plan has them "
                "leave nothing to choose",
                ("aim",),
                "delete one of them",
            )
        )
    remnant = job.text("start_on")
    if remnant is not None:
        fault = _inside(job, ("start_on",), remnant)
        faults += [fault] if fault is not None else []
        if job.text("from_plan") is not None:
            faults.append(
                job.fault(
                    "start_on and from_plan stand together: the former plan's places are those of "
                    "other film",
                    ("start_on",),
                    "delete one of them",
                )
            )
    return faults


def _copies_faults(job: Draft, at: int, table: dict[str, Any]) -> Iterator[Fault]:
    """A decal says how many copies it has, by number or by the rows of a file."""
    keys, rows = ("decal", at, "rows"), table.get("rows")
    if "quantity" not in table and "rows" not in table:
        known = DecalOrder.model_fields
        if not any(nearest(key, known) == "quantity" for key in table if key not in known):
            yield job.fault(
                "quantity is missing",
                ("decal", at),
                "add quantity (copies to deliver): a whole number from 1 to 100000",
            )
    if not isinstance(rows, str) or not rows:
        return
    fault = _inside(job, keys, rows)
    if fault is not None:
        yield fault
    artwork = table.get("artwork")
    if isinstance(artwork, str) and not artwork.lower().endswith(".svg"):
        yield job.fault(
            f"rows are set as text of an SVG, and artwork is {shown(artwork)}",
            keys,
            'give the art as .svg with live text that has data-row="COLUMN"',
        )
    name = table.get("name")
    if isinstance(name, str) and name == job.text("fill_with"):
        yield job.fault(
            f"fill_with names {shown(name)}, whose copies are one a row: there are no extra ones",
            ("fill_with",),
            "fill with another decal, or delete fill_with",
        )


def _inside(job: Draft, keys: Keys, artwork: str) -> Fault | None:
    """Drawings lie inside the job's folder, links followed; a job can then be carried about."""
    key, folder = keys[-1], job.path.parent
    do = f"copy the file into {folder} and write its path from there"
    absolute = PureWindowsPath(artwork)
    if "\\" in artwork and not absolute.drive:
        return job.fault(
            f"{key} is {shown(artwork)}, with backslashes",
            keys,
            f"write {shown(absolute.as_posix())}",
        )
    if Path(artwork).is_absolute() or absolute.drive:
        return job.fault(f"{key} {shown(artwork)} is an absolute path", keys, do)
    try:
        found = (folder / artwork).resolve()
        inside = found.is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError) as error:  # a loop of links, a zero byte
        return job.fault(f"{key} {shown(artwork)} leads nowhere: {error}", keys, do)
    if not inside:
        return job.fault(
            f"{key} {shown(artwork)} lies outside the job's folder, at {found}", keys, do
        )
    return None


def match_faults(job: Draft, shop: Draft, *, elsewhere: bool = False) -> list[Fault]:
    """Faults of the job against its shop: names that it lacks, film that cannot go through.

    elsewhere: the setup is not the one that the job names.
    """
    faults = []
    rolls, setups = shop.rows("roll", Roll), shop.rows("setup", Setup)
    for key, kind, rows in (
        ("roll", "roll", rolls),
        ("setup", "setup", setups),
        ("laminate", "roll", rolls),
    ):
        name, known = job.text(key), [row.name for row in rows if row.name]
        if name is not None and name not in known:
            what, do = unknown_name(kind, name, known, shop.path.name)
            faults.append(job.fault(what, (key,), do))
    faults += tape_faults(job, shop)
    roll = next((row.sound for row in rolls if row.name == job.text("roll")), None)
    setup = next((row.sound for row in setups if row.name == job.text("setup")), None)
    if setup is None:
        return faults
    sound = {row.name: (row.at, row.sound) for row in shop.rows("machine", Machine) if row.sound}
    laminating = [stage.machine for stage in setup.stages if _laminates(stage, sound)]
    over = next((row.sound for row in rolls if row.name == job.text("laminate")), None)
    if job.text("laminate") is not None and not laminating:
        faults.append(_no_laminator(job, shop, setup))
    names = [stage.machine for stage in setup.stages if over or stage.machine not in laminating]
    machines = [sound[name] for name in dict.fromkeys(names) if name in sound]
    if roll is not None:
        faults += _wrong_use(job, roll, over)
        faults += _too_wide(shop, roll, setup, machines)
        faults += _no_width_left(shop, roll, machines)
        faults += _no_white(shop, roll, setup, machines)
    printer = next((m for _, m in machines if m.name == setup.stages[0].machine), None)
    faults += white_faults(job, roll, printer)
    if printer is not None:
        faults += _no_mode(job, [m for _, m in sound.values()], printer, elsewhere)
    faults += _no_tool(job, setup, machines)
    return faults


def _laminates(stage: Stage, machines: dict[str | None, tuple[int, Machine]]) -> bool:
    if stage.does is not None or stage.machine not in machines:
        return stage.does == "laminate"
    return machines[stage.machine][1].does == ["laminate"]


def _no_laminator(job: Draft, shop: Draft, setup: Setup) -> Fault:
    others = [row.sound for row in shop.rows("setup", Setup) if row.sound is not None]
    sound = {row.name: (row.at, row.sound) for row in shop.rows("machine", Machine) if row.sound}
    able = [o.name for o in others if any(_laminates(stage, sound) for stage in o.stages)]
    do = f"take {either(able)}" if able else "add a stage that laminates between print and cut"
    return job.fault(
        f"{shown(setup.name)} has no stage that laminates", ("laminate",), do, OUT_OF_REACH
    )


def _wrong_use(job: Draft, roll: Roll, over: Roll | None) -> Iterator[Fault]:
    """Film to print on and film to laminate with are not taken for each other."""
    if roll.use != "print":
        yield job.fault(
            f"{shown(roll.name)} is for laminating", ("roll",), "name a roll that is printed on"
        )
    if over is None:
        return
    if over.use != "laminate":
        yield job.fault(
            f"{shown(over.name)} is not for laminating",
            ("laminate",),
            'name a roll with use = "laminate"',
        )
    elif over.width_mm < roll.width_mm:
        yield job.fault(
            f"{shown(over.name)} is {short(over.width_mm)} mm wide, {shown(roll.name)} "
            f"{short(roll.width_mm)} mm: it does not cover the print",
            ("laminate",),
            f"name a laminate of {short(roll.width_mm)} mm or more",
            OUT_OF_REACH,
        )


def _too_wide(
    shop: Draft, roll: Roll, setup: Setup, machines: list[tuple[int, Machine]]
) -> Iterator[Fault]:
    for at, machine in machines:
        if roll.width_mm > machine.width_mm:
            yield shop.fault(
                f"{shown(roll.name)} is {short(roll.width_mm)} mm wide, {shown(machine.name)} "
                f"takes {short(machine.width_mm)} mm",
                ("machine", at, "width_mm"),
                f"take a roll of {short(machine.width_mm)} mm or less, or another setup than "
                f"{shown(setup.name)}",
                OUT_OF_REACH,
            )


def _no_width_left(shop: Draft, roll: Roll, machines: list[tuple[int, Machine]]) -> Iterator[Fault]:
    """Between the widest margins of all machines something must be left to nest on."""
    if not machines:
        return
    left = max(machine.margin_left_mm for _, machine in machines)
    right = max(machine.margin_right_mm for _, machine in machines)
    own = [m for _, m in machines if m.margin_left_mm + m.margin_right_mm >= m.width_mm]
    if left + right >= roll.width_mm and not own:
        yield shop.fault(
            f"the margins of {either([m.name for _, m in machines], 'and')} take "
            f"{short(left + right)} mm, {shown(roll.name)} is {short(roll.width_mm)} mm wide",
            ("machine", machines[0][0], "margin_left_mm"),
            f"take a roll wider than {short(left + right)} mm",
            OUT_OF_REACH,
        )


def _no_white(
    shop: Draft, roll: Roll, setup: Setup, machines: list[tuple[int, Machine]]
) -> Iterator[Fault]:
    """On film that is not white the sensor sees a black mark only where white lies below it."""
    printer = next((m for _, m in machines if m.name == setup.stages[0].machine), None)
    if printer is None or roll.base == "white" or printer.prints_white:
        return
    at = [row.name for row in shop.rows("roll", Roll)].index(roll.name)
    what, do = no_white_words(roll, printer)
    yield shop.fault(what, ("roll", at, "base"), do, OUT_OF_REACH)


def no_white_words(roll: Roll, printer: Machine) -> tuple[str, str]:
    """What is wrong, and what to do, where a film needs white that a printer does not have."""
    what = (
        f"{shown(roll.name)} is {roll.base} film: no sensor sees a black mark on it without white "
        f"below, and {shown(printer.name)} prints no white"
    )
    do = (
        "take a roll that is white, or a setup whose printer has a white ink and says "
        f"prints_white = true; write so for {shown(printer.name)} if it has one"
    )
    return what, do


def _no_mode(
    job: Draft, machines: list[Machine], printer: Machine, elsewhere: bool
) -> Iterator[Fault]:
    """The printer must have the mode that is named, or one that is fine enough."""
    name, least_dpi = job.text("mode"), job.tables.get("resolution_least_dpi")
    finest_dpi = max((mode.resolution_dpi for mode in printer.mode), default=0.0)
    if not printer.mode:
        return
    if name is not None and least_dpi is None:
        own = [mode.name for mode in printer.mode]
        if name in own:
            return
        others = [m for machine in machines for m in machine.mode if m.name == name]
        if not elsewhere or not others:
            what, do = unknown_name("print mode", name, own, shown(printer.name))
            yield job.fault(what, ("mode",), do)
            return
        least_dpi = min(mode.resolution_dpi for mode in others)
    if isinstance(least_dpi, int | float) and least_dpi > finest_dpi:
        yield job.fault(
            f"{shown(printer.name)} prints {short(finest_dpi)} dpi at its finest, and "
            f"{short(least_dpi)} are asked for",
            ("mode" if name is not None else "resolution_least_dpi",),
            f"write {short(finest_dpi)} or less, or take a setup whose printer has a finer mode",
            OUT_OF_REACH,
        )


def _no_tool(job: Draft, setup: Setup, machines: list[tuple[int, Machine]]) -> Iterator[Fault]:
    """A cutter that lists its tools must have one for every kind of cut; an empty list says
    nothing."""
    tools = [machine.tools for _, machine in machines if "cut" in machine.does and machine.tools]
    have = {kind for listed in tools for kind in listed}
    yield from no_weeding_tool(job, setup.name, have)
    for row in job.rows("decal", DecalOrder):
        asked = {} if row.sound is None else {"cut": row.sound.cut}
        if row.sound is not None and row.sound.backing is not None:
            asked["backing"] = "through"
        for key, kind in asked.items():
            if not have or kind in have:
                continue
            yield job.fault(
                f"the cutter of {shown(setup.name)} has no tool for a {kind} cut",
                ("decal", row.at, key),
                f"write {either(sorted(have))}, or take a setup whose cutter has such a tool",
                OUT_OF_REACH,
            )
