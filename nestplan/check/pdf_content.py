"""What a PDF's content paints, and where: a walker over the operators of a page.

It knows graphics state, paths, clips and forms (ISO 32000-1, chapters 8.4, 8.5, 8.10),
which is all that a run of decals is made of. A form is walked once, however often it is
used; a use is a matrix. Colours are kept as they were
set, no profile is applied.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

import numpy as np
import pikepdf
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Matrix = NDArray[np.float64]  # (3, 2): rows are what x, y and 1 become
Key = tuple[int, int]
Ink = tuple[str | float, ...]  # the operator that set it, in small letters, and its numbers
BLACK: Ink = ("g", 0.0)
SEPARATION = "separation"  # an ink of its own: then its name, then its tint
DEPTH_MOST = 12
OPERATORS_MOST = 3_000_000
CURVE_STEPS = 16  # chords a Bézier; a mark of circles is flattened within 0.002 of its radius
SAME: Matrix = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])


class Unreadable(Exception):
    """The content breaks the rules of PDF."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """A painted path. rings: its subpaths in the coordinates of whoever holds the item."""

    rings: tuple[NDArray[np.float64], ...]
    filled: bool
    stroked: bool
    even_odd: bool
    ink: Ink  # of the fill where it is filled, else of the stroke
    over: bool  # its fill overprints; where only stroked, its stroke
    clip: int | None  # the outermost clip it is painted under
    layer: Key | None = None  # the innermost layer it lies in
    blend: str = "Normal"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Use:
    """A form, laid down through a matrix."""

    form: Key
    matrix: Matrix
    clip: int | None
    layer: Key | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Other:
    """A picture, a shading or words: what needs no geometry here.

    pixels: columns and rows of an image; none of its own: (0, 0).
    """

    what: str
    matrix: Matrix
    clip: int | None
    pixels: tuple[int, int] = (0, 0)


Item = Path | Use | Other


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything one content stream paints, in order. clips: outermost clip paths by number."""

    items: tuple[Item, ...]
    clips: tuple[tuple[tuple[NDArray[np.float64], ...], bool], ...]  # rings, even-odd


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Form:
    """A form XObject. matrix: from its own space to that of its user; box: its /BBox."""

    key: Key
    scene: Scene
    matrix: Matrix
    box: tuple[float, float, float, float]


def through(matrix: Matrix, after: Matrix) -> Matrix:
    """First one matrix, then the other."""
    joined = matrix @ after[:2]
    joined[2] += after[2]
    return joined


def put(points: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    """Points (n, 2) through a matrix."""
    after: NDArray[np.float64] = points @ matrix[:2] + matrix[2]
    return after


def moved(shape: BaseGeometry, matrix: Matrix) -> BaseGeometry:
    """A shape through a matrix."""
    return shapely.transform(shape, lambda points: put(points, matrix))


@dataclass
class _State:
    """The graphics state as far as it matters."""

    ctm: Matrix
    clip: int | None = None
    fill: Ink = BLACK
    stroke: Ink = BLACK
    separation: str | None = None  # the fill's, where it is one
    separation_stroke: str | None = None
    over: bool = False
    over_stroke: bool = False
    blend: str = "Normal"


@dataclass
class Walker:
    """Walks pages and forms of one document. forms: those seen so far."""

    forms: dict[Key, Form] = field(default_factory=dict)
    walking: list[Key] = field(default_factory=list)
    operators: int = 0

    def page(self, page: pikepdf.Page) -> Scene:
        """raises: Unreadable where the content is broken."""
        try:
            resources = page.obj.get("/Resources", pikepdf.Dictionary())
            return self._scene(page, resources)
        except Unreadable:
            raise
        except BROKEN as error:
            raise Unreadable(str(error) or type(error).__name__) from error

    def _scene(self, stream: pikepdf.Page | pikepdf.Object, resources: pikepdf.Object) -> Scene:
        walk = _Walk(self, resources)
        for instruction in pikepdf.parse_content_stream(stream):
            self.operators += 1
            if self.operators > OPERATORS_MOST:
                raise Unreadable(f"more than {OPERATORS_MOST} operators")
            walk.step(str(instruction.operator), instruction.operands)
        return Scene(items=tuple(walk.items), clips=tuple(walk.clips))

    def form(self, stream: pikepdf.Object) -> Key:
        """Walk a form unless it is known; its key."""
        key = stream.objgen
        if key in self.forms:
            return key
        if key in self.walking or len(self.walking) >= DEPTH_MOST:
            raise Unreadable("forms use each other without end")
        self.walking.append(key)
        scene = self._scene(stream, stream.get("/Resources", pikepdf.Dictionary()))
        self.walking.pop()
        matrix = _matrix(stream.get("/Matrix", pikepdf.Array([1, 0, 0, 1, 0, 0])))
        left, bottom, right, top = (_number(value) for value in stream.BBox)
        box = min(left, right), min(bottom, top), max(left, right), max(bottom, top)
        self.forms[key] = Form(key=key, scene=scene, matrix=matrix, box=box)
        return key


BROKEN = (
    pikepdf.PdfError,
    pikepdf.PasswordError,
    pikepdf.DependencyError,
    NotImplementedError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    AttributeError,
    ArithmeticError,
    RecursionError,
    UserWarning,
)  # a damaged file can break any of the walker's assumptions about its objects


class _Walk:
    """One stream being walked."""

    def __init__(self, walker: Walker, resources: pikepdf.Object) -> None:
        self.walker, self.resources = walker, resources
        self.items: list[Item] = []
        self.clips: list[tuple[tuple[NDArray[np.float64], ...], bool]] = []
        self.state = _State(ctm=SAME)
        self.stack: list[_State] = []
        self.rings: list[list[tuple[float, float]]] = []
        self.closed_at: tuple[float, float] | None = None
        self.clipping: str = ""
        self.layers: list[Key | None] = []  # one for each open BMC or BDC

    def step(self, operator: str, operands: Any) -> None:
        """Take one operator; those that paint nothing and move nothing are passed over."""
        if operator in PAINT:
            self._paint(*PAINT[operator])
        elif operator in ("m", "l", "c", "v", "y", "h", "re"):
            self._draw(operator, [_number(value) for value in operands])
        elif operator in ("g", "rg", "k", "sc", "scn", "cs", "G", "RG", "K", "SC", "SCN", "CS"):
            self._colour(operator, operands)
        elif operator == "gs":
            self._look_up(operands[0])
        elif operator in ("BMC", "BDC"):
            self._begin(operands)
        elif operator == "EMC":
            if not self.layers:
                raise Unreadable("EMC without BDC")
            self.layers.pop()
        elif operator == "q":
            self.stack.append(replace(self.state))
        elif operator == "Q":
            if not self.stack:
                raise Unreadable("Q without q")
            self.state = self.stack.pop()
        elif operator == "cm":
            self.state.ctm = through(_matrix(operands), self.state.ctm)
        elif operator in ("W", "W*"):
            self.clipping = operator
        elif operator == "Do":
            self._use(operands[0])
        elif operator in ("Tj", "TJ", "'", '"'):
            self._other("words")
        elif operator in ("sh", "INLINE IMAGE"):
            self._other("a shading" if operator == "sh" else "an image")

    def _begin(self, operands: Any) -> None:
        """Marked content; with the tag OC it lies in a layer: ISO 32000-1 8.11.3.2."""
        layer = self.layers[-1] if self.layers else None
        if len(operands) == 2 and operands[0] == "/OC" and isinstance(operands[1], pikepdf.Name):
            named = self.resources.get("/Properties", pikepdf.Dictionary())
            layer = named[str(operands[1])].objgen
        self.layers.append(layer)

    @property
    def _layer(self) -> Key | None:
        return self.layers[-1] if self.layers else None

    def _other(self, what: str, pixels: tuple[int, int] = (0, 0)) -> None:
        self.items.append(
            Other(what=what, matrix=self.state.ctm, clip=self.state.clip, pixels=pixels)
        )

    def _use(self, name: pikepdf.Object) -> None:
        stream = self.resources.XObject[str(name)]
        if stream.get("/Subtype") != "/Form":
            self._other("an image", (int(stream.Width), int(stream.Height)))
            return
        key = self.walker.form(stream)
        matrix = through(self.walker.forms[key].matrix, self.state.ctm)
        self.items.append(Use(form=key, matrix=matrix, clip=self.state.clip, layer=self._layer))

    def _colour(self, operator: str, operands: Any) -> None:
        numbers = [_number(value) for value in operands if not isinstance(value, pikepdf.Object)]
        ink: Ink = (operator.lower(), *numbers)
        if operator in ("g", "rg", "k", "cs"):
            self.state.separation = self._separation(operands[0]) if operator == "cs" else None
        if operator in ("G", "RG", "K", "CS"):
            named = self._separation(operands[0]) if operator == "CS" else None
            self.state.separation_stroke = named
        if operator in ("sc", "scn") and self.state.separation is not None:
            ink = (SEPARATION, self.state.separation, *numbers)
        if operator in ("SC", "SCN") and self.state.separation_stroke is not None:
            ink = (SEPARATION, self.state.separation_stroke, *numbers)
        if operator.islower():
            self.state.fill = ink
        else:
            self.state.stroke = ink

    def _separation(self, name: pikepdf.Object) -> str | None:
        """The colorant of a named colour space that is a separation: ISO 32000-1 8.6.6.4."""
        space = self.resources.get("/ColorSpace", pikepdf.Dictionary()).get(str(name))
        if not isinstance(space, pikepdf.Array) or str(space[0]) != "/Separation":
            return None
        return str(space[1]).removeprefix("/")

    def _look_up(self, name: pikepdf.Object) -> None:
        """What a graphics state says of overprinting fills: `op`, else `OP`; Table 58."""
        states = self.resources.get("/ExtGState", pikepdf.Dictionary())
        state = states.get(str(name), pikepdf.Dictionary())
        over = state.get("/op", state.get("/OP"))
        if over is not None:
            self.state.over = bool(over)
        if "/BM" in state:
            self.state.blend = str(state.BM).removeprefix("/")
        if "/OP" in state:
            self.state.over_stroke = bool(state.OP)

    def _draw(self, operator: str, numbers: list[float]) -> None:
        match operator, numbers:
            case "re", [x, y, wide, tall]:
                self.rings.append([(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)])
                self.closed_at = (x, y)
            case "m", [x, y]:
                self.rings.append([(x, y)])
                self.closed_at = None
            case "h", []:
                if self.rings:
                    self.closed_at = self.rings[-1][0]
                    self.rings[-1].append(self.closed_at)
            case "l", [x, y]:
                self._ring().append((x, y))
            case "c", [x1, y1, x2, y2, x3, y3]:
                self._curve((x1, y1), (x2, y2), (x3, y3))
            case "v", [x2, y2, x3, y3]:
                self._curve(self._ring()[-1], (x2, y2), (x3, y3))
            case "y", [x1, y1, x3, y3]:
                self._curve((x1, y1), (x3, y3), (x3, y3))
            case _:
                raise Unreadable(f"{operator} with {len(numbers)} numbers")

    def _ring(self) -> list[tuple[float, float]]:
        """The subpath that grows; a new one after a close, where that ended."""
        if self.closed_at is not None:
            self.rings.append([self.closed_at])
            self.closed_at = None
        if not self.rings:
            raise Unreadable("a path without a start")
        return self.rings[-1]

    def _curve(self, *controls: tuple[float, float]) -> None:
        ring = self._ring()
        p0, (p1, p2, p3) = np.array(ring[-1]), np.array(controls)
        t = np.linspace(0, 1, CURVE_STEPS + 1)[1:, None]
        u = 1 - t
        points = u**3 * p0 + 3 * u**2 * t * p1 + 3 * u * t**2 * p2 + t**3 * p3
        ring.extend(map(tuple, points.tolist()))

    def _paint(self, filled: bool, stroked: bool, even_odd: bool, close: bool) -> None:
        if close and self.rings:
            self.rings[-1].append(self.rings[-1][0])
        rings = tuple(put(np.array(ring), self.state.ctm) for ring in self.rings)
        if (filled or stroked) and rings:
            ink = self.state.fill if filled else self.state.stroke
            self.items.append(
                Path(
                    rings=rings,
                    filled=filled,
                    stroked=stroked,
                    even_odd=even_odd,
                    ink=ink,
                    over=self.state.over if filled else self.state.over_stroke,
                    clip=self.state.clip,
                    layer=self._layer,
                    blend=self.state.blend,
                )
            )
        if self.clipping and self.state.clip is None:
            self.clips.append((rings, self.clipping == "W*"))
            self.state.clip = len(self.clips) - 1
        self.rings, self.closed_at, self.clipping = [], None, ""


# operator: filled, stroked, even-odd, closed first
PAINT = {
    "n": (False, False, False, False),
    "f": (True, False, False, False),
    "F": (True, False, False, False),
    "f*": (True, False, True, False),
    "B": (True, True, False, False),
    "B*": (True, True, True, False),
    "b": (True, True, False, True),
    "b*": (True, True, True, True),
    "S": (False, True, False, False),
    "s": (False, True, False, True),
}


def is_white(ink: Ink) -> bool:
    """Whether an ink is the full white of a printer that has one."""
    return len(ink) == 3 and ink[:2] == (SEPARATION, "White") and float(ink[2]) >= 0.99


def is_black(ink: Ink) -> bool:
    """Whether an ink is full black; colours of named spaces are judged in the picture."""
    space, *parts = ink
    if space == SEPARATION:
        return False
    values = [float(part) for part in parts]
    if space == "k" and len(values) == 4:
        return values[3] >= 0.99
    return space in ("g", "rg") and bool(values) and max(values) <= 0.01


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise Unreadable(f"{str(value)[:20]!r} where a number must be")
    number = float(value)
    if not abs(number) < 1e9:
        raise Unreadable(f"{number:g} where a place must be")
    return number


def _matrix(values: Any) -> Matrix:
    numbers = [_number(value) for value in values]
    if len(numbers) != 6:
        raise Unreadable(f"a matrix of {len(numbers)} numbers")
    return np.array(numbers).reshape(3, 2)
