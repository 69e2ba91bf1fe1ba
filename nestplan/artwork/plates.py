"""One ink of a picture as a PDF in grey: black where the ink is full, white where there is none.

Process colours are kept as the art gives them; RGB is divided by the plain rule of ISO 32000-1,
10.3.4, with all grey moved into the black. Colours are painted through a space of the right
number of components whose tint function keeps one ink (ISO 32000-1, 8.6.6.5), so overlaps,
clips, soft edges and gradients come out as they do in print. Soft masks are left as they are.
"""

import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name, Operator, Pdf, Stream

CHANNELS = ("cyan", "magenta", "yellow", "black")
_DEVICES = {"/DeviceGray": 1, "/DeviceRGB": 3, "/DeviceCMYK": 4, "/CalGray": 1, "/CalRGB": 3}
_PAINTS = {"g": 1, "rg": 3, "k": 4, "G": 1, "RG": 3, "K": 4}
_MOST = "2 copy lt { exch } if pop "  # the greater of two


def has_process_inks(pdf: bytes) -> bool:
    """Whether anything in the picture is given in process inks, a spot colour or else but RGB."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        for each in _dictionaries(opened, frozenset()):
            given = each.get("/ColorSpace")
            named = list(given.values()) if isinstance(given, Dictionary) else [given]
            if any(_count(space) not in (None, 1, 3) for space in named):
                return True
        return any(
            str(step.operator) in ("k", "K")
            for stream in _contents(opened, frozenset())
            for step in pikepdf.parse_content_stream(stream)
        )


def plate(pdf: bytes, channel: int) -> bytes:
    """The picture's plate of one ink (index into CHANNELS)."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        kept = _soft_masks(opened)
        spaces = _Spaces(pdf=opened, channel=channel, made={})
        for each in list(_dictionaries(opened, kept)):
            _respace(each, spaces)
        for stream in list(_contents(opened, kept)):
            _repaint(opened, stream)
        held = io.BytesIO()
        opened.save(held)
    return held.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spaces:
    """The spaces of one plate by their number of components."""

    pdf: Pdf
    channel: int
    made: dict[int, pikepdf.Object]

    def of(self, count: int) -> pikepdf.Object:
        """A space of so many components that shows one ink."""
        if count not in self.made:
            names = Array([Name(f"/Part{k}") for k in range(count)])
            tint = self.function(count, f"{{ {self.keep(count)} }}")
            space = Array([Name.DeviceN, names, Name.DeviceGray, tint])
            self.made[count] = self.pdf.make_indirect(space)
        return self.made[count]

    def function(self, count: int, code: str) -> pikepdf.Object:
        """A calculator function (ISO 32000-1, 7.10.5) with one result."""
        stream = Stream(self.pdf, code.encode("ascii"))
        stream.FunctionType, stream.Domain, stream.Range = 4, Array([0, 1] * count), Array([0, 1])
        return self.pdf.make_indirect(stream)

    def keep(self, count: int) -> str:
        """From a colour of so many components on the stack to the grey of this ink."""
        if count == 1:
            return "" if self.channel == 3 else "pop 1"
        if count == 4:
            return f"{3 - self.channel} index 5 1 roll pop pop pop pop 1 exch sub"
        if self.channel == 3:
            return _MOST * 2
        return f"{2 - self.channel} index 4 1 roll {_MOST * 2} sub 1 add"

    def spot(self, space: pikepdf.Object) -> pikepdf.Object | None:
        """A spot colour's space by way of its own tint function; None where it cannot be told."""
        count, tint = _count(space[2]), space[3]
        parts = 1 if str(space[0]) == "/Separation" else len(space[1])
        if count not in (1, 3, 4):
            return None
        if tint.FunctionType == 4:
            own = tint.read_bytes().decode("ascii", "replace").strip()
            code = f"{{ {own[1:-1]} {self.keep(count)} }}"
        elif tint.FunctionType == 2 and float(tint.N) == 1:
            steps = []
            first: list[Any] = list(tint.get("/C0", [0]))
            last: list[Any] = list(tint.get("/C1", [1]))
            for k, (a, b) in enumerate(zip(first, last, strict=True)):
                steps.append(f"{k} index {float(b) - float(a):f} mul {float(a):f} add")
            roll = f"{count + 1} -1 roll pop"
            code = f"{{ {' '.join(steps)} {roll} {self.keep(count)} }}"
        else:
            return None
        names = Array([Name(f"/Part{k}") for k in range(parts)])
        return Array([Name.DeviceN, names, Name.DeviceGray, self.function(parts, code)])


def _dictionaries(pdf: Pdf, kept: frozenset[tuple[int, int]]) -> Iterator[Dictionary | Stream]:
    """Every dictionary and stream of a file, those that stand within others too."""
    todo: list[Any] = [each for each in pdf.objects if each.objgen not in kept]
    while todo:
        each = todo.pop()
        if isinstance(each, Dictionary | Stream):
            yield each
            inner: Iterable[Any] = (each[key] for key in each.keys())  # noqa: SIM118
        elif isinstance(each, Array):
            inner = each
        else:
            continue
        todo += [
            part for part in inner if isinstance(part, Dictionary | Array) and not part.is_indirect
        ]


def _count(space: pikepdf.Object | None) -> int | None:
    """Components of a device's or a profiled space; 0 for a spot, None for what is no colour."""
    if isinstance(space, Name):
        return _DEVICES.get(str(space))
    if not isinstance(space, Array) or not len(space) or not isinstance(space[0], Name):
        return None
    family = str(space[0])
    if family == "/ICCBased":
        return int(space[1].N)
    if family == "/Indexed":
        return _count(space[1])
    return 0 if family in ("/Separation", "/DeviceN", "/Lab") else _DEVICES.get(family)


def _replaced(space: pikepdf.Object, spaces: _Spaces) -> pikepdf.Object:
    """What stands for a space on this plate."""
    count = _count(space)
    if count is None:
        return space
    if isinstance(space, Array) and str(space[0]) == "/Indexed":
        return Array([space[0], _replaced(space[1], spaces), space[2], space[3]])
    if count:
        return spaces.of(count)
    if str(space[0]) == "/Lab":
        return space
    return spaces.spot(space) or space


def _respace(each: Dictionary | Stream, spaces: _Spaces) -> None:
    """Put this plate's spaces in place of a dictionary's own, and of those it lists."""
    given = each.get("/ColorSpace")
    mask = each.get("/ImageMask", False)
    if isinstance(given, Name | Array) and not mask:
        each.ColorSpace = _replaced(given, spaces)
    holder = each.get("/Resources")
    if isinstance(holder, Dictionary):
        listed = holder.get("/ColorSpace", Dictionary())
        named = Dictionary({name: _replaced(space, spaces) for name, space in listed.items()})
        for count, name in ((1, "Gray"), (3, "RGB"), (4, "CMYK")):
            named[f"/Default{name}"] = named[f"/Plate{count}"] = spaces.of(count)
        holder.ColorSpace = named


def _soft_masks(pdf: Pdf) -> frozenset[tuple[int, int]]:
    """Objects that are masks, and the forms within: their greys are no ink."""
    kept: set[tuple[int, int]] = set()
    todo = []
    for each in pdf.objects:
        if isinstance(each, Dictionary | Stream):
            mask = each.get("/SMask")
            if isinstance(mask, Stream):
                kept.add(mask.objgen)
            elif isinstance(mask, Dictionary) and "/G" in mask:
                todo.append(mask.G)
    while todo:
        form = todo.pop()
        if form.objgen in kept:
            continue
        kept.add(form.objgen)
        inner = form.get("/Resources", Dictionary()).get("/XObject", Dictionary())
        todo += [each for _, each in inner.items()]
    return frozenset(kept)


def _contents(pdf: Pdf, kept: frozenset[tuple[int, int]]) -> Iterator[pikepdf.Object]:
    """Every page, form and tile that paints."""
    yield from (page.obj for page in pdf.pages)
    for each in pdf.objects:
        if not isinstance(each, Stream) or each.objgen in kept:
            continue
        if str(each.get("/Subtype", "")) == "/Form" or each.get("/PatternType") == 1:
            yield each


def _repaint(pdf: Pdf, stream: pikepdf.Object) -> None:
    """Colours set in device spaces go through this plate's."""
    steps: list[Any] = []
    for step in pikepdf.parse_content_stream(stream):
        sign = str(step.operator)
        if sign in _PAINTS:
            filled = sign.islower()
            name = Name(f"/Plate{_PAINTS[sign]}")
            steps.append(([name], Operator("cs" if filled else "CS")))
            steps.append((step.operands, Operator("scn" if filled else "SCN")))
        else:
            steps.append(step)
    data = pikepdf.unparse_content_stream(steps)
    if isinstance(stream, Stream):
        stream.write(data)
    else:
        stream.Contents = Stream(pdf, data)
