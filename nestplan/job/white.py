"""White ink below, over or between the art: which decals have it, and what a shop needs for it."""

from collections.abc import Iterator

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job.draft import Draft
from nestplan.job.job_file import DecalOrder, JobFile, White
from nestplan.job.place import Keys
from nestplan.job.shop_file import Machine, Roll
from nestplan.job.shown import shown

ORDERS: tuple[White, ...] = ("under", "over", "between")


def white_of(job: JobFile, decal: DecalOrder) -> tuple[White, float]:
    """Order of a decal's white among the inks, and by how many mm it is choked."""
    order = job.white if decal.white is None else decal.white
    choke_mm = job.white_choke_mm if decal.white_choke_mm is None else decal.white_choke_mm
    return order, choke_mm


def white_order(job: JobFile) -> White:
    """The one order of inks of the run; none where no decal has white."""
    orders = (white_of(job, decal)[0] for decal in job.decal)
    return next((order for order in orders if order != "none"), "none")


def mixed_white(job: Draft) -> Iterator[Fault]:
    """A printer lays its inks down in one order all over a run."""
    first: White | None = None
    for keys, order in _asked(job):
        if first is not None and order != first:
            yield job.fault(
                f"white is {shown(order)} here and {shown(first)} elsewhere: a run is printed in "
                "one order of inks",
                keys,
                f"write {shown(first)}, or make this decal a job of its own",
            )
        first = first or order


def white_faults(job: Draft, roll: Roll | None, printer: Machine | None) -> Iterator[Fault]:
    """White that the printer does not have, or that would hide the art."""
    keys, order = next(_asked(job), ((), "none"))
    if order == "none":
        return
    if printer is not None and not printer.prints_white:
        yield job.fault(
            f"white is {shown(order)}, and {shown(printer.name)} prints no white",
            keys,
            "take a setup whose printer has a white ink and says prints_white = true; write so "
            f"for {shown(printer.name)} if it has one",
            OUT_OF_REACH,
        )
    if roll is not None and order != "under" and roll.base != "clear":
        yield job.fault(
            f"white is {shown(order)}: such art is seen through the film, and {shown(roll.name)} "
            f"is {roll.base} film",
            keys,
            'take a roll with base = "clear" (write so in the shop file if it is), or white = '
            '"under"',
            OUT_OF_REACH,
        )


def _asked(job: Draft) -> Iterator[tuple[Keys, White]]:
    """Where each decal that has white says so, and the order. Rows with faults are passed over."""
    rows = job.rows("decal", DecalOrder)
    common = job.text("white")
    for row in rows:
        if row.sound is None:
            continue
        own = row.sound.white
        keys: Keys = ("white",) if own is None else ("decal", row.at, "white")
        order = common if own is None else own
        for known in ORDERS:
            if order == known:
                yield keys, known
