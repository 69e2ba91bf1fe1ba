"""Film, frames and remnants on which marks cannot stand."""

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import Job
from nestplan.marks.safe_zone import Web, centre_ranges_mm
from nestplan.marks.shapes import blank_round_mm


def refuse_unreadable_web(job: Job, web: Web) -> None:
    sensor = job.cutter.sensor
    assert sensor is not None
    ranges = centre_ranges_mm(job, web)
    apart = blank_round_mm(sensor) + sensor.size_mm / 2
    if not ranges or ranges[-1][1] - ranges[0][0] < apart:
        raise Fault(
            what=f"no pair of marks can stand on {job.roll.name!r}",
            where=f'{job.shop_path.name}, [[machine]] "{job.cutter.name}": sensor reach, margins '
            f"and roller lanes leave no two places {apart:.1f} mm apart on "
            f"{job.roll.width_mm:g} mm",
            do="take a wider roll, or another setup whose sensor reaches both edges of this one",
            code=OUT_OF_REACH,
        )


def no_marks_on_remnant(job: Job) -> Fault:
    return Fault(
        what="marks cannot stand along both edges of the film that the run starts on",
        where=f"{job.path.name}, start_on",
        do="cut off what is too narrow or too torn and draw the rest, or start on whole film",
        code=OUT_OF_REACH,
    )


def refuse_long_frame(job: Job, length_mm: float, index: int) -> None:
    most = job.cutter.frame_greatest_mm
    if length_mm > job.frame_most_mm + 1e-6 and most is not None and length_mm <= most + 1e-6:
        raise Fault(
            what=f"frame {index} needs {length_mm:.1f} mm, a page of the print has "
            f"{job.frame_most_mm:g} mm at most",
            where=f"{job.path.name}, long_pages",
            do="write long_pages = true where printer and reader know larger user units, or let "
            "the decals turn",
            code=OUT_OF_REACH,
        )
    if most is not None and length_mm > most + 1e-6:
        raise Fault(
            what=f"frame {index} needs {length_mm:.1f} mm, this cutter takes {most:g} mm",
            where=f'{job.shop_path.name}, [[machine]] "{job.cutter.name}", frame_greatest_mm',
            do="take a setup whose cutter takes longer frames, or let the decals turn",
            code=OUT_OF_REACH,
        )
