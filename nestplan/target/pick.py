"""Which setup and which roll of a shop a target is for."""

from pathlib import Path

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import Equipment, Roll, ShopFile, machines_of
from nestplan.job.job_sense import no_white_words
from nestplan.job.shop_sense import unknown_name
from nestplan.marks import needs_white


def equipment_of(path: Path, shop: ShopFile, *, setup: str | None, roll: str | None) -> Equipment:
    """The named setup and roll; the first setup, and the first roll its machines take.

    raises: Fault for a name that the shop does not have, or film that is too wide.
    """
    chosen = shop.setup[0]
    if setup is not None:
        chosen = next((each for each in shop.setup if each.name == setup), chosen)
        if chosen.name != setup:
            known = [each.name for each in shop.setup]
            raise _unknown("setup", setup, known, path)
    printer, cutter = machines_of(shop, chosen)
    picked = _roll(path, shop, roll, min(printer.width_mm, cutter.width_mm))
    if needs_white(picked) and not printer.prints_white:
        what, do = no_white_words(picked, printer)
        where = f'{path.name}, [[roll]] "{picked.name}", base'
        raise Fault(
            what=what, where=where, do=f"{do}, or name a roll with --roll", code=OUT_OF_REACH
        )
    return Equipment(
        shop_path=path,
        shop=shop,
        roll=picked,
        setup=chosen,
        printer=printer,
        cutter=cutter,
    )


def _roll(path: Path, shop: ShopFile, name: str | None, widest_mm: float) -> Roll:
    if name is not None:
        named = next((each for each in shop.roll if each.name == name), None)
        if named is None:
            raise _unknown("roll", name, [each.name for each in shop.roll], path)
        rolls = [named]
    else:
        rolls = shop.roll
    fits = [roll for roll in rolls if roll.width_mm <= widest_mm]
    if not fits:
        raise Fault(
            what=f"{rolls[0].name!r} is {rolls[0].width_mm:g} mm wide, the setup's machines take "
            f"{widest_mm:g} mm",
            where=f"{path.name}, [[roll]]",
            do=f"name a roll of {widest_mm:g} mm or less with --roll, or another setup",
            code=OUT_OF_REACH,
        )
    return fits[0]


def _unknown(kind: str, name: str, known: list[str], path: Path) -> Fault:
    what, do = unknown_name(kind, name, known, path.name)
    return Fault(what=what, where=f"--{kind} {name}", do=do)
