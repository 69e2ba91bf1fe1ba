"""Job and shop files in, one checked `Job` out; every fault found is reported at once."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from nestplan.faults import Fault, raise_all
from nestplan.job.draft import Draft
from nestplan.job.former import Former, read_former
from nestplan.job.job_file import JobFile
from nestplan.job.job_sense import job_faults, match_faults
from nestplan.job.print_modes import modes_of
from nestplan.job.profile import Profile, read_profile
from nestplan.job.shop_file import Machine, PrintMode, Roll, Setup, ShopFile, Stage, Task
from nestplan.job.shop_sense import shop_faults
from nestplan.job.toml_file import Tables, read_tables

PAGE_MOST_MM = 5080.0  # 14 400 units of 1/72 inch: ISO 32000-1 Annex C.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """A roll of a shop and the machines of one setup that it runs through.

    print_width_mm: the print is no wider than this; None: as wide as roll and printer allow.
    """

    shop_path: Path
    shop: ShopFile
    roll: Roll
    setup: Setup
    printer: Machine
    cutter: Machine
    print_width_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job(Equipment):
    """A job file and its shop file, with the names in them resolved.

    former: the plan that `from_plan` names. laminate: the roll that goes over the print.
    profile: of the film on the printer, where the shop names one.
    piece, laminate_piece: ids in the shop's stock; then `roll` is that piece as it will be when
    the run's turn comes, as booked up to the movement `piece_no` of the book.
    modes: those of the printer that the job allows; the first one is used.
    """

    path: Path
    order: JobFile
    former: Former | None = None
    laminate: Roll | None = None
    profile: Profile | None = None
    piece: str | None = None
    piece_no: int = 0
    laminate_piece: str | None = None
    modes: tuple[PrintMode, ...] = ()

    @property
    def mode(self) -> PrintMode:
        """How it is printed."""
        return self.modes[0] if self.modes else self.printer.mode[0]

    @property
    def folder(self) -> Path:
        """The folder artwork must lie in."""
        return self.path.parent

    @property
    def frame_most_mm(self) -> float:
        """Longest frame that the cutter takes and that a page of the print may have."""
        most = self.cutter.frame_greatest_mm
        assert most is not None, "a cutter without a frame length is refused"
        return most if self.order.long_pages else min(most, PAGE_MOST_MM)


def _as_it_is(tables: Tables) -> None:
    """Change nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What two files would say otherwise; each function changes the tables it is given."""

    job: Callable[[Tables], None] = _as_it_is
    shop: Callable[[Tables], None] = _as_it_is


def read_job(
    path: Path, *, setup: str | None = None, aim: str | None = None, change: Change | None = None
) -> Job:
    """Read and check a job file and the shop file it names.

    setup, aim: taken in place of those the job names. On another setup a named print mode stands
    for any that is as fine. change: changes what both files say, as if
    they said it, before it is checked.

    raises: Fault or Faults, each with file, key, value found and what would be right.
    """
    job = Draft(path=path, tables=read_tables(path, kind="job"))
    _refuse_other_kind(job, kind="job", mark="machine", own="decal")
    elsewhere = setup is not None and setup != job.tables.get("setup")
    if setup is not None:
        job.tables["setup"] = setup
    if aim is not None:
        job.tables["aim"] = aim
    if change is not None:
        change.job(job.tables)
    faults = [*job.shape_faults(JobFile), *job_faults(job)]
    try:
        shop = _shop_of(job)
    except Fault as fault:
        raise_all([*faults, fault])
        raise
    if shop is not None:
        if change is not None:
            change.shop(shop.tables)
        faults += [*shop.shape_faults(ShopFile), *shop_faults(shop)]
        faults += match_faults(job, shop, elsewhere=elsewhere)
    raise_all(faults)
    assert shop is not None, "a job without a shop has a fault"
    return _resolved(job, shop)


def read_shop(path: Path) -> ShopFile:
    """Read and check a shop file by itself.

    raises: Fault or Faults, as `read_job`.
    """
    shop = Draft(path=path, tables=read_tables(path, kind="shop"))
    _refuse_other_kind(shop, kind="shop", mark="decal", own="machine")
    raise_all([*shop.shape_faults(ShopFile), *shop_faults(shop)])
    return ShopFile.model_validate(shop.tables)


def machines_of(shop: ShopFile, setup: Setup) -> tuple[Machine, Machine]:
    """The printer and the cutter of a setup: one and the same for a combined device.

    A setup that was read has stages that print and cut, maybe one that laminates between.
    """
    stages = {does: machine for does, machine, _ in stages_of(shop, setup)}
    return stages["print"], stages["cut"]


def stages_of(
    shop: ShopFile, setup: Setup, *, laminated: bool = True
) -> list[tuple[Task, Machine, Stage]]:
    """What each stage does and on which machine; a job that is not laminated skips one."""
    named = {machine.name: machine for machine in shop.machine}
    stages = []
    for stage in setup.stages:
        machine = named[stage.machine]
        does = stage.does or machine.does[0]
        if laminated or does != "laminate":
            stages.append((does, machine, stage))
    return stages


def _shop_of(job: Draft) -> Draft | None:
    """The shop that the job names; None when it names none. raises: Fault."""
    named = job.text("shop")
    if named is None:
        return None
    path = job.path.parent / named
    shop = Draft(path=path, tables=read_tables(path, kind="shop", named_in=job.where("shop")))
    _refuse_other_kind(shop, kind="shop", mark="decal", own="machine")
    return shop


def _refuse_other_kind(draft: Draft, *, kind: str, mark: str, own: str) -> None:
    """A job given for a shop, or the other way round, would have nothing but faults."""
    if mark in draft.tables and own not in draft.tables:
        other = {"job": "shop", "shop": "job"}[kind]
        raise Fault(
            what=f"this is a {other} file, not a {kind} file: it has [[{mark}]]",
            where=str(draft.path),
            do=f"name the {kind} file, which has [[{own}]]",
        )


def _resolved(job: Draft, shop: Draft) -> Job:
    order, stock = JobFile.model_validate(job.tables), ShopFile.model_validate(shop.tables)
    setup = next(setup for setup in stock.setup if setup.name == order.setup)
    printer, cutter = machines_of(stock, setup)
    roll = next(roll for roll in stock.roll if roll.name == order.roll)
    return Job(
        path=job.path,
        order=order,
        shop_path=shop.path,
        shop=stock,
        roll=roll,
        setup=setup,
        printer=printer,
        cutter=cutter,
        former=_former_of(job, order.from_plan),
        laminate=next((roll for roll in stock.roll if roll.name == order.laminate), None),
        profile=_profile_of(shop, stock, roll, printer),
        modes=modes_of(order, stock, printer),
        print_width_mm=order.print_width_mm,
    )


def _profile_of(shop: Draft, stock: ShopFile, roll: Roll, printer: Machine) -> Profile | None:
    """The film's own profile, else the printer's. raises: Fault."""
    if roll.profile is not None:
        where = shop.where("roll", stock.roll.index(roll), "profile")
        return read_profile(shop.path.parent, roll.profile, where)
    if printer.profile is not None:
        where = shop.where("machine", stock.machine.index(printer), "profile")
        return read_profile(shop.path.parent, printer.profile, where)
    return None


def _former_of(job: Draft, named: str | None) -> Former | None:
    """The former plan that the job names. raises: Fault."""
    if named is None:
        return None
    return read_former(job.path.parent / named, named, job.where("from_plan"))
