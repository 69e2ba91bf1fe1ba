"""The files of a plan as pictures, drawn by renderers that did not write them."""

from io import BytesIO
from pathlib import Path

import pypdfium2
import resvg_py

from nestplan.faults import Fault

DPI = 110


def pictures_of(folder: Path, dpi: int = DPI) -> dict[str, bytes]:
    """PNG bytes by name for all that a folder shows. raises: Fault where it shows nothing."""
    pictures: dict[str, bytes] = {}
    for pdf in sorted(folder.glob("*.pdf")):
        pictures |= _pages(pdf, dpi)
    for svg in sorted(folder.glob("cut-*.svg")):
        png = resvg_py.svg_to_bytes(
            svg_string=svg.read_text(encoding="utf-8"),
            dpi=96,
            zoom=1,
            background="white",
            skip_system_fonts=True,
        )
        pictures[f"{svg.stem}.png"] = bytes(png)
    if not pictures:
        raise Fault(
            what="there is nothing to show",
            where=str(folder),
            do="name a folder that nestplan plan has written",
        )
    return pictures


def _pages(pdf: Path, dpi: int) -> dict[str, bytes]:
    pages = {}
    document = pypdfium2.PdfDocument(pdf)
    try:
        for number, page in enumerate(document, start=1):
            held = BytesIO()
            page.render(scale=dpi / 72).to_pil().save(held, "PNG")
            pages[f"{pdf.stem}-{number:02d}.png"] = held.getvalue()
    finally:
        document.close()
    return pages
