"""Everything that is wrong with a decal's art, looked for in one place."""

from collections.abc import Callable

from nestplan.artwork.art_faults.bleed import short_bleed
from nestplan.artwork.art_faults.colour import rgb_art
from nestplan.artwork.art_faults.corner import sharp_corners
from nestplan.artwork.art_faults.cut_line import doubled_lines, joined_gaps
from nestplan.artwork.art_faults.fault import ArtFault, few
from nestplan.artwork.art_faults.font import missing_fonts
from nestplan.artwork.art_faults.hairline import hairlines
from nestplan.artwork.art_faults.ink import heavy_ink
from nestplan.artwork.art_faults.resolution import coarse_pictures
from nestplan.artwork.art_faults.subject import Subject
from nestplan.artwork.art_faults.weeding import narrow_parts

LOOKS: tuple[Callable[[Subject], list[ArtFault]], ...] = (
    short_bleed,
    coarse_pictures,
    missing_fonts,
    heavy_ink,
    rgb_art,
    hairlines,
    narrow_parts,
    sharp_corners,
    doubled_lines,
    joined_gaps,
)


def art_faults(subject: Subject) -> tuple[ArtFault, ...]:
    """What a person should see of this art, a few of each kind, numbered by their order."""
    return tuple(few([fault for look in LOOKS for fault in look(subject)]))
