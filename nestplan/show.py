"""Render the files of a plan for the eye: `python -m nestplan.show DIR --out PICTURES`.

Every page of both PDFs and every cut layer becomes a PNG, drawn by renderers that did not
write them. The pictures in the docs are made with it.
"""

from io import BytesIO
from pathlib import Path

import click
import pypdfium2
import resvg_py

from nestplan.faults import Fault

DPI = 110


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path, file_okay=False))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the PNGs.")
@click.option("--dpi", default=DPI, show_default=True, type=click.IntRange(10, 600))
def main(folder: Path, out: Path, dpi: int) -> None:
    """Render every page and cut layer of a plan to PNG."""
    try:
        pictures = pictures_of(folder, dpi)
    except Fault as fault:
        raise click.ClickException(str(fault)) from None
    out.mkdir(parents=True, exist_ok=True)
    for name, png in pictures.items():
        (out / name).write_bytes(png)


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


if __name__ == "__main__":
    main()
