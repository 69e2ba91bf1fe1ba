"""Draw what the docs explain: `python -m nestplan.show.explain DEMO_JOBS --out PICTURES`.

How each nesting engine works, why each bound holds, how contours are made, where marks may
stand, what a fit says, how a vernier is read: every picture made by the code it explains.
"""

from pathlib import Path

import click

from nestplan.plan import plan_job
from nestplan.show import bounds, contours, marks, nests, verniers
from nestplan.show.demo import demo_of

STEPS = 3_000  # of the run whose marks are drawn


@click.command()
@click.argument("demo", metavar="DEMO_JOBS", type=click.Path(path_type=Path, exists=True))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the PNGs.")
def main(demo: Path, out: Path) -> None:
    """Draw engines, bounds, contours, marks and fits at work."""
    out.mkdir(parents=True, exist_ok=True)
    shapes = demo_of(demo)
    for name, draw in {**nests.DRAWINGS, **bounds.DRAWINGS, **verniers.DRAWINGS}.items():
        (out / f"{name}.png").write_bytes(draw(shapes))
    for name, of_demo in contours.DRAWINGS.items():
        (out / f"{name}.png").write_bytes(of_demo(demo))
    run = plan_job(demo / "sponsors" / "sponsors.toml", steps=STEPS)
    for name, of_run in marks.DRAWINGS.items():
        (out / f"{name}.png").write_bytes(of_run(run))


if __name__ == "__main__":
    main()
