"""What the shapes of a drawing print, as the look-out for faults wants it."""

from collections.abc import Collection, Sequence

import numpy as np
import shapely

from nestplan.artwork.art_faults.subject import Printed
from nestplan.artwork.svg.clips import Clip
from nestplan.artwork.svg.drawing import Embedded, Shape
from nestplan.artwork.svg.paint import clip_region
from nestplan.artwork.svg.parse import Element, name_of
from nestplan.geometry.polyline import Affine

OFF_MM = 0.05  # curves are judged by chords no farther off


def printed_shapes(
    shapes: Sequence[Shape],
    embedded: Sequence[Embedded],
    to_mm: Affine,
    unstroked: Collection[Element],
) -> list[Printed]:
    """Fills, strokes and pictures in page mm. unstroked: elements whose stroke is the cut line."""
    finest = {each.where: each.px_per_unit for each in embedded}
    clips = _Clips(to_mm)
    found = []
    for shape in shapes:
        onto = to_mm @ shape.matrix
        scale = float(np.linalg.svd(onto[:2, :2], compute_uv=False)[-1])
        if scale == 0 or not (shape.style.fills or shape.style.strokes):
            continue
        runs = tuple(run.mapped(onto).flattened(OFF_MM) for run in shape.path)
        seen = clips.seen(shape.clips)
        is_picture = name_of(shape.element) == "image"
        if is_picture and shape.where in finest:
            dpi = finest[shape.where] / to_mm[0, 0] * 25.4
            found.append(
                Printed(
                    where=shape.where, kind="picture", runs=runs, family="rgb", dpi=dpi, seen=seen
                )
            )
            continue
        if shape.style.fills:
            rule = shape.style.fill_rule == "evenodd"
            found.append(
                Printed(
                    where=shape.where,
                    kind="fill",
                    runs=runs,
                    family="rgb",
                    even_odd=rule,
                    seen=seen,
                )
            )
        if shape.style.strokes and shape.element not in unstroked:
            found.append(
                Printed(
                    where=shape.where,
                    kind="stroke",
                    runs=runs,
                    family="rgb",
                    width_mm=shape.style.stroke_width * scale,
                    seen=seen,
                )
            )
    return found


class _Clips:
    """What clips let through; many shapes share one."""

    def __init__(self, to_mm: Affine) -> None:
        self.to_mm = to_mm
        self.known: dict[int, shapely.Geometry] = {}

    def seen(self, clips: Sequence[Clip]) -> shapely.Geometry | None:
        """Where all of the clips let a shape be seen; None: everywhere."""
        found: shapely.Geometry | None = None
        for clip in clips:
            if id(clip) not in self.known:
                self.known[id(clip)] = clip_region(clip, self.to_mm, OFF_MM)
            here = self.known[id(clip)]
            found = here if found is None else shapely.intersection(found, here)
        return found
