"""Which print modes of a printer a job allows."""

from nestplan.job.job_file import JobFile
from nestplan.job.shop_file import Machine, PrintMode, ShopFile


def modes_of(order: JobFile, shop: ShopFile, printer: Machine) -> tuple[PrintMode, ...]:
    """Those of the printer that the job allows, in the shop's order; none where it has no such.

    A named mode stands, on a printer that has none of that name, for any that is as fine; with
    neither a name nor a least resolution it is the printer's first.
    """
    if order.mode is None and order.resolution_least_dpi is None:
        return tuple(printer.mode[:1])
    named = tuple(mode for mode in printer.mode if mode.name == order.mode)
    if named:
        return named[:1]
    least_dpi = order.resolution_least_dpi or named_dpi(order.mode, shop.machine)
    return tuple(mode for mode in printer.mode if mode.resolution_dpi >= least_dpi)


def named_dpi(name: str | None, machines: list[Machine]) -> float:
    """Resolution of the mode of that name, the coarsest where several have it."""
    found = [
        mode.resolution_dpi for machine in machines for mode in machine.mode if mode.name == name
    ]
    assert found, "the job room refuses a mode that the shop does not have"
    return min(found)
