"""What a person should know of a cut that is not as plain as asked."""

from nestplan.artwork import Decal
from nestplan.cut.cut_plan import CutPlan
from nestplan.faults import Note


def cut_notes(decals: tuple[Decal, ...], cut: CutPlan) -> list[Note]:
    """Holes that fall out although the job asks for tabs."""
    names = ", ".join(decals[which].name for which in cut.extras.untabbed)
    if not names:
        return []
    text = f"holes too small for two tabs are cut whole, and what they cut out may drop: {names}"
    return [Note(level="know", where="tabs", text=text)]
