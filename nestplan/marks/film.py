"""Where frames may lie along the roll: lead, tail, spoiled stretches, and how much film is left."""

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import Equipment, Job


def lead_mm(job: Equipment) -> float:
    """Unprinted film in front: what the printer needs, and the cutter if this edge enters it."""
    cutter = job.cutter
    first = cutter.lead_mm if job.setup.enters == "leading" else cutter.tail_mm
    return max(job.printer.lead_mm, first)


def tail_mm(job: Equipment) -> float:
    """Unprinted film behind the last frame."""
    cutter = job.cutter
    last = cutter.tail_mm if job.setup.enters == "leading" else cutter.lead_mm
    return max(job.printer.tail_mm, last)


def past_spoiled_mm(job: Equipment, y0_mm: float, length_mm: float) -> float:
    """The first y at or after y0 from which a frame of this length meets no spoiled stretch."""
    for start_m, end_m in sorted(job.roll.avoid_m):
        if y0_mm < end_m * 1000 and y0_mm + length_mm > start_m * 1000:
            y0_mm = end_m * 1000
    return y0_mm


def refuse_short_roll(job: Equipment, used_mm: float) -> None:
    """raises: Fault where the roll holds less film than the run uses."""
    left = job.roll.left_m
    if used_mm > left * 1000 + 1e-6:
        piece = job.piece if isinstance(job, Job) else None
        said = f'{job.shop_path.name}, [[roll]] "{job.roll.name}", left_m'
        raise Fault(
            what=f"the run needs {used_mm / 1000:.2f} m of film, "
            f"{f'{piece} has {left:g} m free' if piece else f'the roll has {left:g} m left'}",
            where=f"stock, {piece}" if piece else said,
            do=f"take a roll with {used_mm / 1000:.2f} m or more, or order fewer copies",
            code=OUT_OF_REACH,
        )
