"""A run small enough to price by hand. Rates and figures are invented."""

from dataclasses import replace
from decimal import Decimal

from nestplan.clock import SetupTimes
from nestplan.cost import Piece, Taken
from nestplan.job import Cost, Roll
from tests.files.handmade import a_run

RUN = a_run()
ZERO = Decimal(0)


def rates(**keys):
    """Ink 10 ml a m² at 0.12; hands 36.00 and machines 9.00 an hour."""
    plain = {
        "currency": "EUR",
        "ink_per_ml": Decimal("0.12"),
        "ink_ml_per_m2": Decimal(10),
        "labour_per_h": Decimal(36),
        "machine_per_h": Decimal(9),
    }
    return Cost.model_validate(plain | keys)


def a_job(roll=(), cost=(), order=()):
    """600 mm film at 10.00 a m²."""
    film = {"name": "film", "width_mm": 600.0, "left_m": 40.0, "price": Decimal(10), "per": "m2"}
    shop = RUN.job.shop.model_copy(update={"cost": rates(**dict(cost))})
    return replace(
        RUN.job,
        shop=shop,
        roll=Roll.model_validate(film | dict(roll)),
        order=RUN.job.order.model_copy(update=dict(order)),
    )


def piece(name="plate", mm2=10_000, black=1, contour_mm=400, turns=1, tape_mm2=12_100):
    """A 100 mm square, all black, no bleed."""
    return Piece(
        name=name,
        taken_mm2=Decimal(mm2),
        printed_mm2=Decimal(mm2),
        ink_mm2=(ZERO, ZERO, ZERO, Decimal(mm2) * Decimal(black)),
        white_mm2=ZERO,
        contour_mm=Decimal(contour_mm),
        turns=Decimal(turns),
        tape_mm2=Decimal(tape_mm2),
    )


def times(print_s=0.0, cut_s=0.0, print_hands_s=0.0, cut_hands_s=0.0):
    return SetupTimes(
        name="pair",
        print_s=print_s,
        handling_s=print_hands_s + cut_hands_s,
        hands_s=(("print", print_hands_s), ("cut", cut_hands_s)),
        lag_s=3600.0,
        cut_s=cut_s,
        one_run_s=0.0,
        runs_per_shift=0,
    )


def taken(pieces=None, ordered=(50,), extra=(), film_mm=1500.0, parcels=1, **seconds):
    pieces = pieces or (piece(),)
    extra = extra or (0,) * len(ordered)
    return Taken(
        pieces=tuple(pieces),
        ordered=tuple(ordered),
        planned=tuple(n + m for n, m in zip(ordered, extra, strict=True)),
        film_mm=film_mm,
        times=times(**seconds),
        parcels=parcels,
    )
