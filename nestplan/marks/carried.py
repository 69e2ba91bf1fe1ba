"""What machines are known to do wrong and have not been set right: said with every plan."""

from nestplan.artwork import Decal
from nestplan.faults import Note
from nestplan.figures import fixed, short
from nestplan.job import Calibration, Job, Machine

CUT_KEYS = (
    "offset_x_mm",
    "offset_y_mm",
    "scale_along_percent",
    "scale_across_percent",
    "skew_mm_m",
)
PRINT_KEYS = ("size_along_percent", "size_across_percent", "size_skew_mm_m")
SEEN_MM = 0.05  # a decal that is off by less is right


def carried_notes(job: Job, decals: tuple[Decal, ...]) -> list[Note]:
    """A note for the cutter and one for the printer, where they still carry something."""
    notes = []
    known = job.cutter.calibration or Calibration()
    cut = [f"{key} {short(value, 3)}" for key in CUT_KEYS if (value := getattr(known, key))]
    if cut:
        text = f"still carries {', '.join(cut)}: counted in the predicted error; {_set_it(job)}"
        notes.append(Note(level="know", where=_where(job.cutter), text=text))
    known = job.printer.calibration or Calibration()
    printed = [f"{key} {short(value, 3)}" for key in PRINT_KEYS if (value := getattr(known, key))]
    off_mm = max(_off_mm(known, decal) for decal in decals)
    if printed and off_mm >= SEEN_MM:
        text = (
            f"still carries {', '.join(printed)}: the largest decal comes out {fixed(off_mm, 2)} "
            f"mm off its size; {_set_it(job)}"
        )
        notes.append(Note(level="know", where=_where(job.printer), text=text))
    return notes


def _off_mm(known: Calibration, decal: Decal) -> float:
    """How far off its size a decal is at most, whichever way it lies."""
    size_mm = max(decal.contour.width_mm, decal.contour.height_mm)
    percent = max(abs(known.size_along_percent), abs(known.size_across_percent))
    return size_mm * max(percent / 100, abs(known.size_skew_mm_m) / 1000)


def _set_it(job: Job) -> str:
    return f"set it on the machine, then write 0 in {job.shop_path.name}"


def _where(machine: Machine) -> str:
    return f'machine "{machine.name}"'
