"""The page's content, operator by operator: what is drawn, in which ink, on which layer.

Source: ISO 32000-1, 8.5 (paths), 8.6 (colour), 8.10 (forms), 8.11 (optional content).
Coordinates of what is found are page points, y down.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pikepdf
from pikepdf import Name, Pdf

from nestplan.artwork.pdf.fonts import is_embedded
from nestplan.artwork.pdf.ink import CMYK, GREY, RGB, Ink, Space, is_device, space_of
from nestplan.artwork.pdf.layers import Layers
from nestplan.artwork.pdf.pen import Pen
from nestplan.artwork.pdf.resources import Instruction, named, operators_about
from nestplan.artwork.pdf.sheet import first_page
from nestplan.artwork.pixels import PIXELS_MOST
from nestplan.artwork.svg.path import Path, rectangle
from nestplan.artwork.svg.units import largest_scale
from nestplan.faults import Fault
from nestplan.geometry.polyline import Affine, Points, map_points

SpaceName = tuple[tuple[int, int], str]  # the stream whose resources name it, and the name
OPERATORS_MOST = 150_000  # a page of maps has a hundred thousand
CONTENT_MOST = 25_000_000  # bytes of content, all streams together
DEPTH_MOST = 25  # forms within forms
PAGE = (0, 0)  # stands for the page's own content among the numbers of streams

FILLS = {"f", "F", "f*", "B", "B*", "b", "b*"}
EVEN_ODD = {"f*", "B*", "b*"}
STROKES = {"S", "s", "B", "B*", "b", "b*"}
CLOSING = {"s", "b", "b*"}
SHOWING = {"Tj", "TJ", "'", '"'}
_FILL_SPACE = {"g": GREY, "rg": RGB, "k": CMYK}
_STROKE_SPACE = {"G": GREY, "RG": RGB, "K": CMYK}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One thing that is painted.

    at:     the stream it stands in and the number of its operator there; `PAGE` is the page.
    kind:   path, text, picture, shading or form. path: empty for all others.
    fill, stroke: None where it is not filled or not stroked.
    layers: names of the optional content it belongs to. hidden: such content is off.
    scale:  page points to one unit where it stands; of a picture, page points to a pixel.
    pixels: width and height of a picture. family: of its colours, as `Ink` names them.
    frame:  page points: the corners of a picture, closed, or the foot and head of a text.
    clips:  paths, page points, and their even-odd rules; it is seen where all of them let it.
    fill_from, stroke_from: where its colour space is named; None for the device's own.
    plain:  it hides what is below it: no transparency, no blending.
    """

    at: tuple[tuple[int, int], int]
    kind: str
    layers: tuple[str, ...]
    hidden: bool
    scale: float
    path: Path = ()
    fill: Ink | None = None
    stroke: Ink | None = None
    line_width: float = 0.0
    pixels: tuple[int, int] = (0, 0)
    font: str = ""
    font_embedded: bool = True
    clipped: bool = False
    frame: Points = field(default_factory=lambda: np.zeros((0, 2)))
    family: str = "other"
    even_odd: bool = False
    clips: tuple[tuple[Path, bool], ...] = ()
    fill_from: SpaceName | None = None
    stroke_from: SpaceName | None = None
    plain: bool = True

    @property
    def where(self) -> str:
        """For people: the kind, the place and the layer."""
        place = ""
        if self.path:
            x, y = (value * 25.4 / 72 for value in self.path[0].start)
            place = f" at x {x:.2f}, y {y:.2f} mm from the page's upper left"
        layer = f' on layer "{self.layers[-1]}"' if self.layers else ""
        return f"page 1, {self.kind}{place}{layer}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """The graphics state, as far as it matters here."""

    matrix: Affine
    fill_space: Space = GREY
    stroke_space: Space = GREY
    fill: Ink = field(default_factory=lambda: GREY.first)
    stroke: Ink = field(default_factory=lambda: GREY.first)
    line_width: float = 1.0
    font: str = ""
    font_size: float = 0.0
    font_embedded: bool = True
    clipped: bool = False
    clips: tuple[tuple[Path, bool], ...] = ()
    fill_from: SpaceName | None = None
    stroke_from: SpaceName | None = None
    through: float = 1.0  # of fills and strokes, the fainter
    blended: bool = False


def walk(pdf: Pdf, onto: Affine, source: str) -> list[Piece]:
    """Everything that the first page paints, in order. onto: user space to page points.

    raises: Fault for content that has no end, or that reaches outside the file.
    """
    page = first_page(pdf, source)
    resources = page.obj.get("/Resources")
    if resources is None:  # inherited: the library hands the page its own copy
        resources = page.resources
    walker = _Walker(Layers(pdf), source)
    walker.stream(page, PAGE, (PAGE, resources), _State(matrix=onto), (), 0)
    return walker.pieces


class _Walker:
    """Visits streams once for every time they are drawn; counts what it does."""

    def __init__(self, layers: Layers, source: str) -> None:
        self.layers, self.source = layers, source
        self.pieces: list[Piece] = []
        self.left = OPERATORS_MOST
        self.bytes_left = CONTENT_MOST
        self.known: dict[tuple[int, int], list[Instruction]] = {}

    def stream(
        self,
        content: pikepdf.Object | pikepdf.Page,
        key: tuple[int, int],
        owned: tuple[tuple[int, int], pikepdf.Object],
        state: _State,
        layers: tuple[pikepdf.Object, ...],
        depth: int,
    ) -> None:
        """One content stream. owned: the stream that has its resources, and these.

        layers: the optional content it is drawn in.
        """
        resources = owned[1]
        if depth > DEPTH_MOST:
            raise Fault(
                what=f"forms nest more than {DEPTH_MOST} deep, or draw themselves",
                where=f"{self.source}, page 1",
                do="flatten or ungroup the drawing, then export it again",
            )
        if key not in self.known:
            self._refuse_endless(content)
            self.known[key] = list(pikepdf.parse_content_stream(content))
        instructions = self.known[key]
        self.left -= len(instructions)
        if self.left < 0:
            raise self._endless()
        saved: list[_State] = []
        marked: list[tuple[pikepdf.Object, ...]] = []  # of each marked part, the layers round it
        pen = Pen()
        line = np.eye(3)  # where the text line starts (ISO 32000-1, 9.4.2)
        for number, instruction in enumerate(instructions):
            name = str(instruction.operator)
            given = instruction.operands
            at = (key, number)
            if name == "q":
                saved.append(state)
            elif name == "Q":
                state = saved.pop() if saved else state
            elif name == "cm":
                a, b, c, d, e, f = (float(value) for value in given)
                inner = np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
                state = replace(state, matrix=state.matrix @ inner)
            elif pen.takes(name):
                pen.draw(name, [float(value) for value in given])
            elif name in FILLS or name in STROKES or name == "n":
                path = pen.taken(closing=name in CLOSING)
                self._path(at, name, path, state, layers)
                if pen.clips:
                    state, pen = _clipped(state, path, pen.clips == "W*"), Pen()
            elif name in ("W", "W*"):
                pen.clips = name
            elif name in ("BDC", "BMC"):
                marked.append(layers)
                group = self.layers.group(list(given), resources) if name == "BDC" else None
                layers = layers if group is None else (*layers, group)
            elif name == "EMC":
                layers = marked.pop() if marked else layers
            elif name == "Do":
                self._drawn(at, given[0], owned, state, layers, depth)
            elif name == "BT":
                line = np.eye(3)
            elif name in ("Td", "TD", "Tm"):
                line = _text_line(line, name, [float(value) for value in given])
            elif name in SHOWING:
                foot = np.array([[0.0, 0.0], [0.0, state.font_size]])
                frame = map_points(foot, state.matrix @ line)
                self._add(at, "text", state, layers, fill=state.fill, frame=frame)
            elif name == "sh":
                self._add(at, "shading", state, layers)
            elif name == "INLINE IMAGE":
                image = given[0]
                family = space_of(image.obj.get("/ColorSpace"), resources).family
                size = int(image.width), int(image.height)
                self._picture(at, size, family, state, layers)
            else:
                state = _set(state, name, list(given), owned)

    def _refuse_endless(self, content: pikepdf.Object | pikepdf.Page) -> None:
        """Count operators before they are read: each takes half a kilobyte."""
        found = content.obj.get("/Contents") if isinstance(content, pikepdf.Page) else content
        operators = 0
        for part in found if isinstance(found, pikepdf.Array) else [found]:
            if isinstance(part, pikepdf.Stream):
                text = part.read_bytes()
                self.bytes_left -= len(text)
                if self.bytes_left >= 0:
                    operators += operators_about(text, self.left + 1 - operators)
                if self.bytes_left < 0 or operators > self.left:
                    raise self._endless()

    def _endless(self) -> Fault:
        return Fault(
            what=f"the page has more than {OPERATORS_MOST} drawing operators, or "
            f"{CONTENT_MOST // 1_000_000} MB of them",
            where=self.source,
            do="simplify the drawing, or give it as a picture",
        )

    def _path(
        self,
        at: tuple[tuple[int, int], int],
        name: str,
        path: Path,
        state: _State,
        layers: tuple[pikepdf.Object, ...],
    ) -> None:
        if name == "n" or not path:
            return
        self._add(
            at,
            "path",
            state,
            layers,
            path=tuple(run.mapped(state.matrix) for run in path),
            fill=state.fill if name in FILLS else None,
            stroke=state.stroke if name in STROKES else None,
            even_odd=name in EVEN_ODD,
        )

    def _drawn(
        self,
        at: tuple[tuple[int, int], int],
        name: pikepdf.Object,
        owned: tuple[tuple[int, int], pikepdf.Object],
        state: _State,
        layers: tuple[pikepdf.Object, ...],
        depth: int,
    ) -> None:
        """A form or a picture."""
        resources = owned[1]
        drawn = named(resources, "/XObject", name)
        if not isinstance(drawn, pikepdf.Stream):
            return
        if "/F" in drawn or "/Ref" in drawn:
            raise Fault(
                what=f"{name} refers to something outside the file",
                where=f"{self.source}, page 1",
                do="embed it: nothing outside is read",
            )
        if "/OC" in drawn:
            layers = (*layers, drawn.OC)
        if drawn.get("/Subtype") == Name.Image:
            size = int(drawn.Width), int(drawn.Height)
            if drawn.get("/ImageMask", False):
                family = state.fill.family
            else:
                family = space_of(drawn.get("/ColorSpace"), resources).family
            self._picture(at, size, family, state, layers)
        elif drawn.get("/Subtype") == Name.Form:
            self._add(at, "form", state, layers)
            numbers = [float(value) for value in drawn.get("/Matrix", [1, 0, 0, 1, 0, 0])]
            a, b, c, d, e, f = numbers
            inner = np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
            within = replace(state, matrix=state.matrix @ inner)
            own = (drawn.objgen, drawn.Resources) if "/Resources" in drawn else owned
            box = [float(value) for value in drawn.get("/BBox", ())]
            if len(box) == 4:
                low, high = np.minimum(box[:2], box[2:]), np.maximum(box[:2], box[2:])
                within = _clipped(within, rectangle(*low, *(high - low)), False)
            self.stream(drawn, drawn.objgen, own, within, layers, depth + 1)

    def _picture(
        self,
        at: tuple[tuple[int, int], int],
        size: tuple[int, int],
        family: str,
        state: _State,
        layers: tuple[pikepdf.Object, ...],
    ) -> None:
        width, height = size
        if width * height > PIXELS_MOST:
            raise Fault(
                what=f"a picture has {width} × {height} pixels, more than "
                f"{PIXELS_MOST // 1_000_000} million",
                where=f"{self.source}, page 1",
                do="place it at the resolution it is printed at",
            )
        if width > 0 and height > 0:
            across = state.matrix @ np.diag([1 / width, 1 / height, 1.0])
            here = replace(state, matrix=across)
            frame = map_points(np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0.0]]), state.matrix)
            self._add(at, "picture", here, layers, pixels=size, frame=frame, family=family)

    def _add(
        self,
        at: tuple[tuple[int, int], int],
        kind: str,
        state: _State,
        layers: tuple[pikepdf.Object, ...],
        *,
        path: Path = (),
        fill: Ink | None = None,
        stroke: Ink | None = None,
        pixels: tuple[int, int] = (0, 0),
        frame: Points | None = None,
        family: str = "other",
        even_odd: bool = False,
    ) -> None:
        self.pieces.append(
            Piece(
                at=at,
                kind=kind,
                layers=tuple(name for group in layers for name in self.layers.names(group)),
                hidden=any(self.layers.is_off(group) for group in layers),
                scale=largest_scale(state.matrix),
                path=path,
                fill=fill,
                stroke=stroke,
                line_width=state.line_width,
                pixels=pixels,
                font=state.font if kind == "text" else "",
                font_embedded=state.font_embedded,
                clipped=state.clipped,
                frame=np.zeros((0, 2)) if frame is None else frame,
                family=family,
                even_odd=even_odd,
                clips=state.clips,
                fill_from=state.fill_from,
                stroke_from=state.stroke_from,
                plain=state.through >= 1 and not state.blended,
            )
        )


def _text_line(line: Affine, name: str, numbers: list[float]) -> Affine:
    """Where the next text line starts."""
    if name == "Tm" and len(numbers) == 6:
        a, b, c, d, e, f = numbers
        return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
    if name != "Tm" and len(numbers) == 2:
        moved: Affine = line @ np.array([[1, 0, numbers[0]], [0, 1, numbers[1]], [0, 0, 1.0]])
        return moved
    return line


def _clipped(state: _State, path: Path, even_odd: bool) -> _State:
    """The state within one more clip. path: in user space."""
    mapped = tuple(run.mapped(state.matrix) for run in path)
    return replace(state, clipped=True, clips=(*state.clips, (mapped, even_odd)))


def _set(
    state: _State,
    name: str,
    given: Sequence[pikepdf.Object],
    owned: tuple[tuple[int, int], pikepdf.Object],
) -> _State:
    """Operators that change ink, line or font."""
    owner, resources = owned
    if name in _FILL_SPACE:
        space = _FILL_SPACE[name]
        ink = space.ink(list(_numbers(given)))
        return replace(state, fill_space=space, fill=ink, fill_from=None)
    if name in _STROKE_SPACE:
        space = _STROKE_SPACE[name]
        ink = space.ink(list(_numbers(given)))
        return replace(state, stroke_space=space, stroke=ink, stroke_from=None)
    if name == "cs":
        space = space_of(given[0], resources)
        named_at = None if is_device(given[0]) else (owner, str(given[0]))
        return replace(state, fill_space=space, fill=space.first, fill_from=named_at)
    if name == "CS":
        space = space_of(given[0], resources)
        named_at = None if is_device(given[0]) else (owner, str(given[0]))
        return replace(state, stroke_space=space, stroke=space.first, stroke_from=named_at)
    if name in ("sc", "scn"):
        return replace(state, fill=state.fill_space.ink(list(_numbers(given))))
    if name in ("SC", "SCN"):
        return replace(state, stroke=state.stroke_space.ink(list(_numbers(given))))
    if name == "w":
        return replace(state, line_width=float(given[0]))
    if name == "Tf":
        font = named(resources, "/Font", given[0])
        if font is not None:
            said = str(font.get("/BaseFont", given[0]))[1:]
            size = abs(float(given[1])) if len(given) > 1 else 0.0
            return replace(state, font=said, font_size=size, font_embedded=is_embedded(font))
    if name == "gs":
        extra = named(resources, "/ExtGState", given[0])
        return state if extra is None else _extended(state, extra)
    return state


def _extended(state: _State, extra: pikepdf.Object) -> _State:
    """What a graphics state dictionary changes (ISO 32000-1, 8.4.5)."""
    if "/LW" in extra:
        state = replace(state, line_width=float(extra["/LW"]))
    if "/ca" in extra or "/CA" in extra:
        faint = min(float(extra.get(key, 1.0)) for key in ("/ca", "/CA"))
        state = replace(state, through=faint)
    if "/SMask" in extra or "/BM" in extra:
        modes = extra.get("/BM", Name.Normal)
        normal = modes in (Name.Normal, Name.Compatible)
        masked = extra.get("/SMask", Name("/None")) != Name("/None")
        state = replace(state, blended=masked or not normal)
    return state


def _numbers(given: Sequence[pikepdf.Object]) -> Iterator[float]:
    """The components of a colour; the name of a pattern is none."""
    return (float(value) for value in given if not isinstance(value, Name))
