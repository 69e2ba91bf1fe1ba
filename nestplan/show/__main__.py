"""Render the files of a plan for the eye: `python -m nestplan.show DIR --out PICTURES`.

Every page of both PDFs and every cut layer becomes a PNG.
"""

from pathlib import Path

import click

from nestplan.faults import Fault
from nestplan.show.folder import DPI, pictures_of


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


if __name__ == "__main__":
    main()
