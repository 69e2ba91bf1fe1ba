"""What the proof says in sentences: cautions, loading, notes."""

from collections.abc import Sequence

from nestplan import figures
from nestplan.faults import Note
from nestplan.files.run import Run
from nestplan.job import Roll

LAST_WORD = "Local codes, the machine's manual and licensed practice come first."

BLADES = (
    "Retract or cap the blade before reaching in; change it with the power off; used blades go "
    "into a sharps container; cut-resistant gloves to handle blades, none near moving parts."
)
CARRIAGE = (
    "Hands, hair, sleeves and lanyards off moving carriage and rollers; covers shut; know the "
    "emergency stop."
)
FUMES = (
    "Ventilate as the ink and film makers' safety data sheets say; no flames or sparks near "
    "solvent ink."
)
SHORT_CAUTIONS = (
    (
        "Hands",
        "Off blade, carriage and rollers while the machine may move; cap or retract the "
        "blade before reaching in. Fumes, lifting and the rest: on the run card.",
    ),
)
SHARE_IT = "two people or a lift above what one person may lift where you work."


def cautions(run: Run) -> tuple[tuple[str, str], ...]:
    """What may hurt the operator of this run, each with what to do."""
    return (
        ("Blades", BLADES),
        ("Carriage", CARRIAGE),
        ("Fumes", FUMES),
        ("Lifting", lifting(run.job.roll)),
    )


def film_left_g(roll: Roll) -> float | None:
    """What the film left on the roll weighs without its core; None where nobody knows."""
    if roll.weight_g_m2 is None:
        return None
    return roll.width_mm / 1000 * roll.left_m * roll.weight_g_m2


def lifting(roll: Roll) -> str:
    """How heavy the roll is, as far as the shop file says, and what follows."""
    grams = film_left_g(roll)
    if grams is None:
        return f"Weigh the roll before lifting it; {SHARE_IT}"
    return (
        f"The {figures.short(roll.left_m)} m of film left weigh {figures.mass(grams)} without the "
        f"core; {SHARE_IT}"
    )


def notes(given: Sequence[Note]) -> tuple[tuple[str, str], ...]:
    """Notes behind their level, the gravest first, otherwise in the order of the flow."""
    order = {"stop": 0, "look": 1, "know": 2}
    ranked = sorted(given, key=lambda note: order[note.level])
    return tuple((note.level, f"{note.where}: {note.text}") for note in ranked)
