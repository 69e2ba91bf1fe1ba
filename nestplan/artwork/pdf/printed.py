"""What the pieces of a page print, as the look-out for faults wants it."""

from collections.abc import Collection, Sequence
from typing import cast

import numpy as np

from nestplan.artwork.art_faults.subject import Family, Printed
from nestplan.artwork.pdf.ink import Ink
from nestplan.artwork.pdf.walk import Piece
from nestplan.geometry.polyline import Affine, map_points

OFF_MM = 0.05  # curves are judged by chords no farther off


def printed_pieces(
    pieces: Sequence[Piece], unstroked: Collection[object], onto: Affine, source: str
) -> list[Printed]:
    """Fills, strokes, pictures and text in page mm. unstroked: pieces whose stroke is cut."""
    found = []
    for piece in pieces:
        where = f"{source}, {piece.where}"
        if piece.kind == "path":
            runs = tuple(run.mapped(onto).flattened(OFF_MM) for run in piece.path)
            if piece.fill is not None:
                found.append(_inked(piece.fill, where, runs))
            if piece.stroke is not None and piece.at not in unstroked:
                width = piece.line_width * piece.scale * float(onto[0, 0])
                found.append(_inked(piece.stroke, where, runs, width_mm=width))
        elif piece.kind == "picture" and len(piece.frame):
            dpi = 25.4 / (piece.scale * float(onto[0, 0])) if piece.scale > 0 else np.inf
            wide, high = piece.pixels
            found.append(
                Printed(
                    where=f"{where}, {wide} × {high} px",
                    kind="picture",
                    runs=(map_points(piece.frame, onto),),
                    family=cast("Family", piece.family),
                    dpi=dpi,
                )
            )
        elif piece.kind == "text" and len(piece.frame) and piece.fill is not None:
            found.append(
                Printed(
                    where=where,
                    kind="text",
                    runs=(map_points(piece.frame, onto),),
                    family=cast("Family", piece.fill.family),
                    font="" if piece.font_embedded else piece.font,
                    ink_percent=piece.fill.total,
                )
            )
    return found


def _inked(
    ink: Ink, where: str, runs: tuple[np.ndarray, ...], width_mm: float | None = None
) -> Printed:
    return Printed(
        where=where,
        kind="fill" if width_mm is None else "stroke",
        runs=runs,
        family=cast("Family", ink.family),
        width_mm=width_mm or 0.0,
        ink_percent=ink.total,
    )
