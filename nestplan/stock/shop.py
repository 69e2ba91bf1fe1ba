"""What the shop file says of films and setups that the stock's commands name."""

from pathlib import Path

from nestplan.faults import Fault
from nestplan.figures import short
from nestplan.job import read_shop
from nestplan.job.shop_sense import unknown_name

WIDTH_LEAST_MM = 10.0


def film_of(shop: Path, film: str, width_mm: float | None) -> float:
    """The width of a piece of this film, mm; None: the film's own. raises: Fault."""
    rolls = {roll.name: roll for roll in read_shop(shop).roll}
    if film not in rolls:
        what, do = unknown_name("roll", film, list(rolls), shop.name)
        raise Fault(what=what, where=f"{shop}, [[roll]]", do=do)
    most = rolls[film].width_mm
    if width_mm is None:
        return most
    if not WIDTH_LEAST_MM <= width_mm <= most:
        raise Fault(
            what=f'a piece of "{film}" cannot be {width_mm:g} mm wide',
            where="--width",
            do=f"write {short(WIDTH_LEAST_MM)} to {short(most)} mm, the width of that film",
        )
    return width_mm


def setup_of(shop: Path, named: str | None) -> str:
    """The setup with this name, or the shop's first. raises: Fault."""
    setups = [setup.name for setup in read_shop(shop).setup]
    if named is None:
        return setups[0]
    if named not in setups:
        what, do = unknown_name("setup", named, setups, shop.name)
        raise Fault(what=what, where=f"{shop}, [[setup]]", do=do)
    return named
