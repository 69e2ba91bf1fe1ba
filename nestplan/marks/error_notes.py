"""What a person should hear about the predicted error."""

from nestplan.artwork import Decal
from nestplan.faults import Note
from nestplan.figures import chance, fixed
from nestplan.job import Job
from nestplan.marks.carried import carried_notes
from nestplan.marks.predict import RunErrors

WHERE = "predicted error"


def error_notes(job: Job, decals: tuple[Decal, ...], errors: RunErrors) -> list[Note]:
    """Too great a chance of a white edge; what was left out of the prediction."""
    notes = carried_notes(job, decals)
    if errors.chance is not None and errors.chance > errors.limit:
        most = "" if errors.chance_draws else "up to "
        text = (
            f"the chance that any decal is cut outside its bleed is {most}"
            f"{chance(errors.chance)}, over the limit of {chance(errors.limit)}; with a bleed of "
            f"{fixed(errors.bleed_least_mm, 2)} mm on every decal it would be kept"
        )
        notes.append(Note(level="look", where=WHERE, text=text))
    missing = _missing(job)
    if missing:
        text = (
            f"the shop file has no figure for {', '.join(missing)}: taken as none, so the true "
            "error is greater"
        )
        notes.append(Note(level="know", where=WHERE, text=text))
    bare = [decal.name for decal in decals if decal.bleed_mm == 0]
    if bare:
        text = (
            f"{', '.join(bare)}: without bleed the error shows at the edge itself, and is not "
            "counted as a white edge"
        )
        notes.append(Note(level="know", where=WHERE, text=text))
    return notes


def _missing(job: Job) -> list[str]:
    """Keys of figures that every shop has and few write down."""
    printer, cutter = job.printer, job.cutter
    given = {
        "placement_noise_mm": printer.placement_noise_mm,
        "distortion_mm": printer.distortion_mm,
        "tracking_mm_m": printer.tracking_mm_m + cutter.tracking_mm_m,
        "offset_sd_mm": cutter.calibration.offset_sd_mm if cutter.calibration else 0.0,
    }
    return [key for key, value in given.items() if value == 0]
