"""Live text whose font is not in the file."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Printed, Subject, middle_and_size
from nestplan.figures import count


def missing_fonts(subject: Subject) -> list[ArtFault]:
    """One fault a font, at the first text that is set in it."""
    by_font: dict[str, list[Printed]] = {}
    for printed in subject.printed:
        if printed.kind == "text" and printed.font:
            by_font.setdefault(printed.font, []).append(printed)
    found = []
    for font, texts in sorted(by_font.items()):
        x, y, size = middle_and_size(shapely.MultiPoint(texts[0].runs[0]))
        times = f" ({count(len(texts), 'piece')} of text)" if len(texts) > 1 else ""
        text = (
            f"text in {font}, a font that is not in the file, looks different on every machine"
            f"{times}: convert text to outlines, or embed the font"
        )
        found.append(
            ArtFault(
                kind="font",
                level="look",
                where=subject.source,
                text=text,
                x_mm=x,
                y_mm=y,
                size_mm=size,
            )
        )
    return found
