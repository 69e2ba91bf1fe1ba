"""What is wrong with a shop whose keys are right: names, setups, machines that lack something."""

from collections.abc import Iterator
from typing import Any

from nestplan.faults import Fault
from nestplan.figures import short
from nestplan.job.draft import Draft, Row
from nestplan.job.nearest import nearest
from nestplan.job.place import Keys
from nestplan.job.rates_sense import rate_faults
from nestplan.job.schema import node_at, schema_of
from nestplan.job.shop_file import Machine, Roll, Setup, ShopFile, Stage, Task
from nestplan.job.shown import allowed, either, meaning, shown

CUTTING = ("speed_mm_s", "acceleration_mm_s2", "frame_greatest_mm", "sensor")
WHOLE_RUNS: list[list[Task]] = [["print", "cut"], ["print", "laminate", "cut"]]


def shop_faults(shop: Draft) -> list[Fault]:
    """Every fault of the shop that needs more than one key to be seen."""
    rolls, machines = shop.rows("roll", Roll), shop.rows("machine", Machine)
    setups = shop.rows("setup", Setup)
    faults = [*same_names(shop, "roll", rolls), *same_names(shop, "machine", machines)]
    faults += same_names(shop, "setup", setups)
    for roll in rolls:
        if roll.sound is not None:
            faults += _roll(shop, roll.at, roll.sound)
    for machine in machines:
        if machine.sound is not None:
            faults += _machine(shop, machine.at, machine.sound)
    for setup in setups:
        if setup.sound is not None:
            faults += _setup(shop, setup.at, setup.sound, machines)
    return [*faults, *rate_faults(shop, rolls)]


def same_names(draft: Draft, key: str, rows: list[Row[Any]]) -> Iterator[Fault]:
    """A name given twice: nobody could tell which one is meant."""
    first: dict[str, int] = {}
    for row in rows:
        if row.name is None:
            continue
        if row.name in first:
            yield draft.fault(
                f"two {key}s are called {shown(row.name)}",
                (key, row.at, "name"),
                f"rename it; [[{key}]] {first[row.name] + 1} has this name already",
            )
        first.setdefault(row.name, row.at)


def unknown_name(kind: str, name: str, known: list[str], file: str) -> tuple[str, str]:
    """What and do for a name that the shop does not have."""
    near = nearest(name, known)
    what = f"{file} has no {kind} {shown(name)}"
    if not known:
        return what, f"add a [[{kind}]] with this name"
    if near is None:
        return what, f"write {either(known[:12])}"
    others = [other for other in known[:12] if other != near]
    has = f"; it also has {either(others, 'and')}" if others else ""
    return what, f"write {shown(near)}, the nearest{has}"


def _roll(shop: Draft, at: int, roll: Roll) -> Iterator[Fault]:
    if roll.per == "roll" and roll.length_m is None:
        yield shop.fault(
            'per is "roll", but length_m is missing',
            ("roll", at),
            "add length_m, the length of a full roll, or price the film per m2 or m",
        )
    yield from _rising(shop, ("roll", at, "avoid_m"), roll.avoid_m)


def _rising(shop: Draft, keys: Keys, spans: list[list[float]]) -> Iterator[Fault]:
    """Spans run upwards and follow each other."""
    before = None
    for at, (start, end) in enumerate(spans):
        said = f"{keys[-1]} {at + 1}"
        if end <= start:
            yield shop.fault(
                f"{said} runs from {short(start, 3)} to {short(end, 3)}",
                (*keys, at),
                "write the smaller number first",
            )
        elif before is not None and start < before:
            yield shop.fault(
                f"{said} begins at {short(start, 3)}, before the one in front of it ends at "
                f"{short(before, 3)}",
                (*keys, at),
                "write the spans in rising order, and overlapping ones as one",
            )
        before = max(end, before or 0.0)


def _machine(shop: Draft, at: int, machine: Machine) -> Iterator[Fault]:
    keys = ("machine", at)
    if len(set(machine.does)) < len(machine.does):
        yield shop.fault(
            f"does is {either(machine.does, 'and')}, the same twice",
            (*keys, "does"),
            f'write does = ["{machine.does[0]}"]',
        )
    margins = machine.margin_left_mm + machine.margin_right_mm
    if margins >= machine.width_mm:
        yield shop.fault(
            f"the margins take {short(margins)} mm, width_mm is {short(machine.width_mm)}",
            (*keys, "margin_left_mm"),
            f"write margins that leave something of {short(machine.width_mm)} mm",
        )
    if "print" in machine.does and not machine.mode:
        yield shop.fault(
            f"{shown(machine.name)} prints, but has no print mode",
            (*keys, "mode"),
            "add a [[machine.mode]] with name, resolution_dpi, passes, swath_mm, carriage_mm_s "
            "and turnaround_s",
        )
    yield from _same_modes(shop, at, machine)
    if "laminate" in machine.does and machine.laminate_mm_s is None:
        yield shop.fault(
            f"{shown(machine.name)} laminates, but laminate_mm_s is missing",
            keys,
            "add laminate_mm_s, the speed of the film through it in mm a second",
        )
    if "cut" in machine.does:
        yield from _cutter(shop, keys, machine)


def _same_modes(shop: Draft, at: int, machine: Machine) -> Iterator[Fault]:
    names = [mode.name for mode in machine.mode]
    for k, name in enumerate(names):
        if name in names[:k]:
            yield shop.fault(
                f"two modes are called {shown(name)}",
                ("machine", at, "mode", k, "name"),
                f"rename it; mode {names.index(name) + 1} has this name already",
            )


def _cutter(shop: Draft, keys: Keys, machine: Machine) -> Iterator[Fault]:
    for key in CUTTING:
        if getattr(machine, key) is None:
            node = node_at(schema_of(ShopFile), (*keys, key))
            yield shop.fault(
                f"{shown(machine.name)} cuts, but {key} is missing",
                keys,
                f"add {key} ({meaning(node)}): {allowed(node)}",
            )
    greatest = machine.frame_greatest_mm
    if greatest is not None and machine.frame_least_mm > greatest:
        yield shop.fault(
            f"frame_least_mm is {short(machine.frame_least_mm)}, more than frame_greatest_mm, "
            f"{short(greatest)}",
            (*keys, "frame_least_mm"),
            f"write {short(greatest)} or less",
        )
    yield from _rising(shop, (*keys, "roller_lanes_mm"), machine.roller_lanes_mm)
    for at, (_, end) in enumerate(machine.roller_lanes_mm):
        if end > machine.width_mm:
            yield shop.fault(
                f"roller_lanes_mm {at + 1} ends at {short(end)}, beyond width_mm, "
                f"{short(machine.width_mm)}",
                (*keys, "roller_lanes_mm", at),
                f"write {short(machine.width_mm)} or less: x counts from the left film edge",
            )
    yield from _sensor(shop, (*keys, "sensor"), machine)


def _sensor(shop: Draft, keys: Keys, machine: Machine) -> Iterator[Fault]:
    sensor = machine.sensor
    if sensor is None:
        return
    least = sensor.size_mm + 2 * sensor.clear_mm
    if sensor.spacing_mm < least - 1e-9:
        yield shop.fault(
            f"spacing_mm is {short(sensor.spacing_mm)}, shorter than a mark with its clear zones, "
            f"{short(least)}",
            (*keys, "spacing_mm"),
            f"write {short(least)} or more: size_mm {short(sensor.size_mm)} and clear_mm "
            f"{short(sensor.clear_mm)} on both sides",
        )
    if sensor.shape in ("corner", "cross") and sensor.line_mm > sensor.size_mm:
        yield shop.fault(
            f"line_mm is {short(sensor.line_mm)}, more than size_mm, {short(sensor.size_mm)}",
            (*keys, "line_mm"),
            "write the stroke of the mark's lines, less than its size",
        )


def _setup(shop: Draft, at: int, setup: Setup, machines: list[Row[Machine]]) -> Iterator[Fault]:
    """Each stage names a machine that can do it; together they print, laminate or not, cut."""
    tasks: list[Task | None] = []
    for k, stage in enumerate(setup.stages):
        found = _stage(shop, ("setup", at, "stages", k), stage, machines)
        if isinstance(found, Fault):
            yield found
            tasks.append(None)
        else:
            tasks.append(found)
    if None in tasks or tasks in WHOLE_RUNS:
        return
    if len(tasks) == 1:
        what = f"the only stage of {shown(setup.name)} is {shown(tasks[0])}"
    else:
        what = f"the stages of {shown(setup.name)} are {either(tasks, 'and')}"
    yield shop.fault(
        what,
        ("setup", at, "stages"),
        "write the machine that prints, the one that laminates if there is one, then the one that "
        "cuts; one device that does several stands once for each",
    )


def _stage(
    shop: Draft, keys: Keys, stage: Stage, machines: list[Row[Machine]]
) -> Task | Fault | None:
    """What the stage does; None when its machine is too faulty to tell."""
    named = [row for row in machines if row.name == stage.machine]
    if not named:
        known = [row.name for row in machines if row.name]
        what, do = unknown_name("machine", stage.machine, known, "the shop")
        return shop.fault(what, (*keys, "machine"), do)
    machine = named[0].sound
    if machine is None:
        return stage.does
    if stage.does is None and len(set(machine.does)) > 1:
        return shop.fault(
            f"{shown(machine.name)} does {either(machine.does, 'and')}, but the stage does not say "
            "which",
            keys,
            f"add does = {either(machine.does)}",
        )
    task = stage.does or machine.does[0]
    if task not in machine.does:
        return shop.fault(
            f"{shown(machine.name)} does not {task}: it does {either(machine.does, 'and')}",
            (*keys, "does"),
            f'name a machine that does, or add "{task}" to its does',
        )
    return task
