"""Whether marks stand where a former plan has them: a cutter set up for it needs to know."""

from collections.abc import Sequence

from nestplan.faults import Note
from nestplan.figures import count
from nestplan.job import Former
from nestplan.marks.mark_plan import Frame

SAME_MM = 1e-3  # no sensor sees less


def since_former_notes(former: Former, frames: Sequence[Frame]) -> list[Note]:
    """How many marks stand, within their frames, where the former plan's frames have them."""
    stayed, total = 0, 0
    for number, frame in enumerate(frames):
        total += len(frame.marks)
        if number >= len(former.frames):
            continue
        before = former.frames[number]
        places = [(mark.x_mm, mark.y_mm - before.y0_mm) for mark in before.marks]
        stayed += sum(
            any(
                abs(mark.x_mm - x) <= SAME_MM and abs(mark.y_mm - frame.y0_mm - y) <= SAME_MM
                for x, y in places
            )
            for mark in frame.marks
        )
    where = f'from_plan "{former.folder}"'
    if stayed == total:
        text = "all marks stand where the former plan has them in its frames"
    else:
        text = (
            f"{count(total - stayed, 'mark')} of {total} stand elsewhere in their frame than in "
            "the former plan: read the mark table again"
        )
    return [Note(level="know", where=where, text=text)]
