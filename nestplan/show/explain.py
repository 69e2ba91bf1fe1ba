"""Draw what the docs explain: `python -m nestplan.show.explain DEMO_JOBS --out PICTURES`.

How each nesting engine works, why each bound holds, how a vernier is read: every picture made by
the code it explains.
"""

from pathlib import Path

import click

from nestplan.show import bounds, nests, verniers
from nestplan.show.demo import demo_of


@click.command()
@click.argument("demo", metavar="DEMO_JOBS", type=click.Path(path_type=Path, exists=True))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the PNGs.")
def main(demo: Path, out: Path) -> None:
    """Draw engines and bounds at work."""
    out.mkdir(parents=True, exist_ok=True)
    shapes = demo_of(demo)
    for name, draw in {**nests.DRAWINGS, **bounds.DRAWINGS, **verniers.DRAWINGS}.items():
        (out / f"{name}.png").write_bytes(draw(shapes))


if __name__ == "__main__":
    main()
