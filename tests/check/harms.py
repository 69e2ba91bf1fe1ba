"""Many kinds of damage to a plan's folder, each done in one place, its traces hidden.

Every kind changes a good file (or the folder), makes the digests right again, and says by
which words the place must be known. Kinds marked `bent` change the summary too, until it
agrees with what was hurt; those that hurt everything also write DXF and tables anew.
"""

import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pikepdf
from lxml import etree
from pikepdf import Array, Dictionary, Name

from nestplan.files.tables import tables
from tests.check.damage import KINDS, SVG, Folder, damage, matrix_op, points, rings, write_points

MM = 72 / 25.4


@dataclass(frozen=True, kw_only=True)
class Harm:
    """A kind of damage. do: hurts a folder and returns words of which a finding must have one."""

    name: str
    do: Callable[[Path, int], tuple[str, ...]]
    bent: bool = False


HARMS: list[Harm] = []


def harm(name: str, *, bent: bool = False) -> Callable:
    """Add a kind; the function gets a `Folder` and returns the words."""

    def added(do: Callable[[Folder], tuple[str, ...]]) -> Callable:
        def on(path: Path, seed: int) -> tuple[str, ...]:
            folder = Folder(path=path, rng=np.random.default_rng(seed), targets=(), bend=bent)
            words = do(folder)
            _finish(folder)
            return words

        HARMS.append(Harm(name=name, do=on, bent=bent))
        return do

    return added


def _finish(folder: Folder) -> None:
    """Digests right; files that are gone or new are left as they are."""
    for name in folder.summary["files"]:
        if (folder.path / name).exists():
            data = (folder.path / name).read_bytes()
            folder.summary["files"][name] = hashlib.sha256(data).hexdigest()
    text = json.dumps(folder.summary, indent=1, ensure_ascii=False)
    (folder.path / "summary.json").write_text(text)


def _known(kind: str, target: str, *, bend: bool) -> Harm:
    def on(path: Path, seed: int) -> tuple[str, ...]:
        hurt = damage(path, kind, target, bend=bend, seed=seed)
        if target == "both":
            agree(path)
        return hurt.names

    where = {"pdf": "print", "svg": "cut", "both": "print, cut, DXF and tables"}[target]
    return Harm(name=f"{kind} in {where}{', summary bent' if bend else ''}", do=on, bent=bend)


def agree(path: Path) -> None:
    """DXF and tables made anew from cut layers and summary."""
    said = json.loads((path / "summary.json").read_bytes())
    for frame in said["frames"]:
        root = etree.fromstring((path / f"cut-{frame['index']:02d}.svg").read_bytes())
        drawing = ezdxf.new("R2000")
        drawing.units, drawing.header["$MEASUREMENT"] = 4, 1
        drawing.appids.add("NESTPLAN")
        for group in root.iter(f"{SVG}g"):
            for ring in group.iter(f"{SVG}path"):
                keys = [ring.get(f"data-{k}") for k in ("mark", "decal", "copy")]
                xy = points(ring) * (1, -1) + (0, frame["length_mm"])
                line = drawing.modelspace().add_lwpolyline(
                    xy.tolist(), close=True, dxfattribs={"layer": group.get("id")}
                )
                line.set_xdata("NESTPLAN", [(1071, int(key)) for key in keys if key])
        drawing.saveas(path / f"cut-{frame['index']:02d}.dxf")
    for name, data in tables(said).items():
        (path / name).write_bytes(data)
    for name in said["files"]:
        said["files"][name] = hashlib.sha256((path / name).read_bytes()).hexdigest()
    (path / "summary.json").write_text(json.dumps(said))


for _kind in KINDS:
    if _kind == "art":
        HARMS.append(_known(_kind, "pdf", bend=False))
        continue
    for _target in ("pdf", "svg"):
        HARMS.append(_known(_kind, _target, bend=False))
        HARMS.append(_known(_kind, _target, bend=True))
    HARMS.append(_known(_kind, "both", bend=True))


# the print as a document


def _page(folder: Folder, change: Callable[[pikepdf.Page, pikepdf.Pdf], None]) -> tuple[str, ...]:
    frame = folder.frame()
    folder.pdf(lambda pdf: change(pdf.pages[frame["index"] - 1], pdf))
    return f"page {frame['index']}", f"frame {frame['index']}"


def _box(page: pikepdf.Page) -> list[float]:
    return [float(value) for value in page.mediabox]


@harm("print: page cropped")
def _(folder: Folder) -> tuple[str, ...]:
    def crop(page: pikepdf.Page, _: pikepdf.Pdf) -> None:
        x0, y0, x1, y1 = _box(page)
        page.obj.CropBox = Array([x0 + 20, y0 + 20, x1 - 20, y1 - 20])

    return _page(folder, crop)


@harm("print: page turned")
def _(folder: Folder) -> tuple[str, ...]:
    return _page(folder, lambda page, _: setattr(page.obj, "Rotate", 180))


@harm("print: media box one millimetre longer")
def _(folder: Folder) -> tuple[str, ...]:
    def longer(page: pikepdf.Page, _: pikepdf.Pdf) -> None:
        x0, y0, x1, y1 = _box(page)
        page.obj.MediaBox = Array([x0, y0, x1, y1 + MM])

    return _page(folder, longer)


@harm("print: unit of the page doubled")
def _(folder: Folder) -> tuple[str, ...]:
    return _page(folder, lambda page, _: setattr(page.obj, "UserUnit", 2))


@harm("print: a page lost")
def _(folder: Folder) -> tuple[str, ...]:
    folder.pdf(lambda pdf: pdf.pages.__delitem__(len(pdf.pages) - 1))
    return ("print.pdf",)


@harm("print: a page twice")
def _(folder: Folder) -> tuple[str, ...]:
    folder.pdf(lambda pdf: pdf.pages.append(pdf.pages[0]))
    return ("print.pdf",)


@harm("print: first and last page exchanged, or the page upside down")
def _(folder: Folder) -> tuple[str, ...]:
    def swap(pdf: pikepdf.Pdf) -> None:
        if len(pdf.pages) > 1:
            first = pdf.pages[0]
            del pdf.pages[0]
            pdf.pages.append(first)
            return
        _around(pdf, pdf.pages[0], lambda w, h: [-1, 0, 0, -1, w, h])

    folder.pdf(swap)
    return ("print.pdf, page",)


def _around(
    pdf: pikepdf.Pdf, page: pikepdf.Page, matrix: Callable[[float, float], list[float]]
) -> None:
    x0, y0, x1, y1 = _box(page)
    numbers = " ".join(f"{n:.6f}" for n in matrix(x1 - x0, y1 - y0))
    body = b"".join(
        stream.read_bytes() + b"\n"
        for stream in (
            page.obj.Contents if isinstance(page.obj.Contents, Array) else [page.obj.Contents]
        )
    )
    page.obj.Contents = pdf.make_stream(f"q {numbers} cm\n".encode() + body + b"\nQ")


@harm("print: a page mirrored")
def _(folder: Folder) -> tuple[str, ...]:
    return _page(folder, lambda page, pdf: _around(pdf, page, lambda w, h: [-1, 0, 0, 1, w, 0]))


@harm("print: a page moved by half a millimetre")
def _(folder: Folder) -> tuple[str, ...]:
    return _page(folder, lambda page, pdf: _around(pdf, page, lambda w, h: [1, 0, 0, 1, MM / 2, 0]))


@harm("print: a page stretched by 0.3 % along")
def _(folder: Folder) -> tuple[str, ...]:
    return _page(folder, lambda page, pdf: _around(pdf, page, lambda w, h: [1, 0, 0, 1.003, 0, 0]))


@harm("print: encrypted")
def _(folder: Folder) -> tuple[str, ...]:
    path = folder.path / "print.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        pdf.save(path, encryption=pikepdf.Encryption(owner="a", user=""))
    return ("print.pdf",)


@harm("print: locked by a password")
def _(folder: Folder) -> tuple[str, ...]:
    path = folder.path / "print.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        pdf.save(path, encryption=pikepdf.Encryption(owner="a", user="b"))
    return ("print.pdf",)


@harm("print: a script in it")
def _(folder: Folder) -> tuple[str, ...]:
    def act(pdf: pikepdf.Pdf) -> None:
        pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS="app.beep(0)")

    folder.pdf(act)
    return ("print.pdf",)


@harm("print: a font no longer embedded")
def _(folder: Folder) -> tuple[str, ...]:
    def strip(pdf: pikepdf.Pdf) -> None:
        for thing in pdf.objects:
            if isinstance(thing, Dictionary) and "/FontFile2" in thing:
                del thing["/FontFile2"]

    folder.pdf(strip)
    return ("print.pdf",)


@harm("print: cut short")
def _(folder: Folder) -> tuple[str, ...]:
    return _short(folder, "print.pdf")


def _short(folder: Folder, name: str) -> tuple[str, ...]:
    path = folder.path / name
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])
    return (name,)


# what is on its pages


def _over(folder: Folder, ink: Callable[[dict[str, Any]], tuple[str, tuple[str, ...]]]) -> tuple:
    """Operators in page millimetres after all others."""
    frame = folder.frame()
    operators, words = ink(frame)

    def draw(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[frame["index"] - 1]
        unit = MM / float(page.obj.get("/UserUnit", 1))
        page.contents_add(
            pdf.make_stream(f"q {unit:.9f} 0 0 {unit:.9f} 0 0 cm {operators} Q".encode())
        )

    folder.pdf(draw)
    return (*words, f"print.pdf, page {frame['index']}")


def _disc(x: float, y: float, radius: float) -> str:
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    xy = np.column_stack([x + radius * np.cos(turns), y + radius * np.sin(turns)])
    return " ".join(f"{a:.4f} {b:.4f} {'l' if k else 'm'}" for k, (a, b) in enumerate(xy)) + " h"


def _on_page(folder: Folder, frame: dict[str, Any], thing: dict[str, Any]) -> tuple[float, float]:
    return thing["x_mm"] - folder.summary["page_x0_mm"], thing["y_mm"] - frame["y0_mm"]


def _a_mark(folder: Folder, frame: dict[str, Any]) -> dict[str, Any]:
    return frame["marks"][folder.rng.integers(len(frame["marks"]))]


def _mark_ink(folder: Folder, ink: Callable[[float, float, float], str]) -> tuple[str, ...]:
    def at(frame: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
        mark = _a_mark(folder, frame)
        x, y = _on_page(folder, frame, mark)
        words = (f"mark {mark['mark']}", f"x {mark['x_mm']:.2f}, y {mark['y_mm']:.2f}")
        return ink(x, y, folder.summary["marks"]["size_mm"] / 2), words

    return _over(folder, at)[:2]


@harm("print: a mark painted over with white")
def _(folder: Folder) -> tuple[str, ...]:
    return _mark_ink(folder, lambda x, y, r: f"0 0 0 0 k {_disc(x, y, r + 0.5)} f")


@harm("print: a mark printed red")
def _(folder: Folder) -> tuple[str, ...]:
    return _mark_ink(folder, lambda x, y, r: f"1 0 0 rg {_disc(x, y, r)} f")


@harm("print: a mark half a millimetre larger")
def _(folder: Folder) -> tuple[str, ...]:
    return _mark_ink(folder, lambda x, y, r: f"0 g {_disc(x, y, r + 0.25)} f")


@harm("print: a second mark over the edge of a mark")
def _(folder: Folder) -> tuple[str, ...]:
    return _mark_ink(folder, lambda x, y, r: f"0 g {_disc(x + 0.5, y, r)} f")


@harm("print: a hairline through a clear zone")
def _(folder: Folder) -> tuple[str, ...]:
    return _mark_ink(
        folder,
        lambda x, y, r: (
            f"1 0 0 RG 0.2 w {x - r - 3:.3f} {y + r + 1.5:.3f} m "
            f"{x + r + 3:.3f} {y + r + 1.5:.3f} l S"
        ),
    )


@harm("print: a black disc that is no mark")
def _(folder: Folder) -> tuple[str, ...]:
    return _over(folder, lambda frame: (f"0 g {_disc(*_blank(folder, frame), 3)} f", ()))


@harm("print: a grey patch between the decals")
def _(folder: Folder) -> tuple[str, ...]:
    def patch(frame: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
        x, y = _blank(folder, frame)
        return f"0.6 0.4 0.2 rg {x - 1.5:.3f} {y - 1.5:.3f} 3 3 re f", ()

    return _over(folder, patch)


def _blank(folder: Folder, frame: dict[str, Any]) -> tuple[float, float]:
    """A place on the page far from every copy and mark."""
    things = [(_on_page(folder, frame, each), 9.0) for each in frame["marks"]]
    for place in frame["placements"]:
        decal = folder.decal(place["decal"])
        reach = np.hypot(decal["width_mm"], decal["height_mm"]) / 2
        things.append((_on_page(folder, frame, place), reach + 4))
    width = max(mark["x_mm"] for mark in frame["marks"]) - folder.summary["page_x0_mm"]
    best, room = (0.0, 0.0), -1e9
    for x in np.linspace(5, width - 5, 40):
        for y in np.linspace(12, frame["length_mm"] - 12, 40):
            free = min(np.hypot(x - at[0], y - at[1]) - reach for at, reach in things)
            if free > room:
                best, room = (float(x), float(y)), free
    return best


def _bars(folder: Folder, change: Callable[[list[float], list[float]], None]) -> tuple[str, ...]:
    """Change the ends of one scale bar: the first stroke of about 100 mm."""
    frame = folder.frame()

    def on(operators: list[Any]) -> list[Any]:
        for k in range(len(operators) - 1):
            names = [str(op.operator) for op in operators[k : k + 2]]
            if names in (["m", "l"], ["l", "l"]):
                a, b = ([float(v) for v in op.operands] for op in operators[k : k + 2])
                if abs(np.hypot(b[0] - a[0], b[1] - a[1]) - 100) < 0.5:
                    change(a, b)
                    operators[k], operators[k + 1] = matrix_op(a, names[0]), matrix_op(b, "l")
                    break
        return operators

    folder.page(frame, on)
    return (f"page {frame['index']}, scale bar",)


@harm("print: a scale bar 99.8 mm long")
def _(folder: Folder) -> tuple[str, ...]:
    def shorten(a: list[float], b: list[float]) -> None:
        b[0], b[1] = (a[k] + (b[k] - a[k]) * 0.998 for k in (0, 1))

    return _bars(folder, shorten)


@harm("print: a scale bar askew")
def _(folder: Folder) -> tuple[str, ...]:
    def lift(a: list[float], b: list[float]) -> None:
        b[1 if abs(b[0] - a[0]) > 50 else 0] += 0.4

    return _bars(folder, lift)


@harm("print: a scale bar laid on a decal")
def _(folder: Folder) -> tuple[str, ...]:
    def shift(a: list[float], b: list[float]) -> None:
        for end in (a, b):
            end[1] += 60

    return _bars(folder, shift)


def _copy_ink(folder: Folder, ink: Callable[[float, float], str]) -> tuple[str, ...]:
    def at(frame: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
        place = folder.copy(frame)
        return ink(*_on_page(folder, frame, place)), (folder.named(place),)

    return _over(folder, at)[:1]


@harm("print: a white patch on a copy")
def _(folder: Folder) -> tuple[str, ...]:
    return _copy_ink(folder, lambda x, y: f"1 g {x - 4:.3f} {y - 4:.3f} 8 8 re f")


@harm("print: a black bar across a copy")
def _(folder: Folder) -> tuple[str, ...]:
    return _copy_ink(folder, lambda x, y: f"0 0 0 1 k {x - 12:.3f} {y - 1:.3f} 24 2 re f")


@harm("print: a copy in half strength")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    place = folder.copy(frame)

    def fade(operators: list[Any]) -> list[Any]:
        k = folder.placing(operators, frame, place)
        faint = pikepdf.ContentStreamInstruction([Name.Faint], pikepdf.Operator("gs"))
        return [*operators[:k], faint, *operators[k:]]

    folder.page(frame, fade)

    def state(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[frame["index"] - 1]
        page.add_resource(
            Dictionary(Type=Name.ExtGState, ca=0.4, CA=0.4), Name.ExtGState, Name.Faint
        )

    folder.pdf(state)
    return (folder.named(place),)


@harm("print: a copy in a layer that is off")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    place = folder.copy(frame)

    def wrap(operators: list[Any]) -> list[Any]:
        k = folder.placing(operators, frame, place)
        on = pikepdf.ContentStreamInstruction([Name.OC, Name.Gone], pikepdf.Operator("BDC"))
        off = pikepdf.ContentStreamInstruction([], pikepdf.Operator("EMC"))
        return [*operators[:k], on, *operators[k : k + 2], off, *operators[k + 2 :]]

    folder.page(frame, wrap)

    def layer(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[frame["index"] - 1]
        group = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="gone"))
        page.add_resource(group, Name.Properties, Name.Gone)
        known = pdf.Root.get("/OCProperties", None)
        if known is None:
            pdf.Root.OCProperties = Dictionary(
                OCGs=Array([group]), D=Dictionary(OFF=Array([group]))
            )
        else:
            known.OCGs.append(group)
            known.D.OFF = Array([*known.D.get("/OFF", []), group])

    folder.pdf(layer)
    return (folder.named(place),)


def _form(folder: Folder, change: Callable[[pikepdf.Object], None]) -> tuple[str, ...]:
    """Change the form of a decal that is placed."""
    frame = folder.frame()
    number = folder.copy(frame)["decal"]

    def on(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            for name, form in page.Resources.XObject.items():
                if name == f"/Decal{number}":
                    change(form)
                    return

    folder.pdf(on)
    return (folder.decal(number)["name"],)


@harm("print: a decal's art darker")
def _(folder: Folder) -> tuple[str, ...]:
    def darken(form: pikepdf.Object) -> None:
        box = [float(value) for value in form.BBox]
        state = Dictionary(Type=Name.ExtGState, ca=0.35)
        states = form.Resources.get("/ExtGState", Dictionary())
        states["/Shade"] = state
        form.Resources.ExtGState = states
        body = form.read_bytes()
        shade = f"\n/Shade gs 0 g {box[0]} {box[1]} {box[2] - box[0]} {box[3] - box[1]} re f\n"
        at = body.rstrip().rfind(b"Q")
        form.write(body[:at] + shade.encode() + body[at:])

    return _form(folder, darken)


@harm("print: a decal's bleed painted white")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    number = folder.copy(frame)["decal"]
    decal = folder.decal(number)
    ring = np.array(decal["contour"][0])
    line = " ".join(f"{x:.4f} {y:.4f} {'l' if k else 'm'}" for k, (x, y) in enumerate(ring))

    def on(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            for name, form in page.Resources.XObject.items():
                if name == f"/Decal{number}":
                    wide = 2 * decal["bleed_mm"] + 0.2
                    outside = f"{line} h -500 -500 1000 1000 re W* n"
                    rim = f"\nq {outside} 1 G 1 g {wide:.3f} w {line} h S Q\n"
                    form.write(form.read_bytes() + rim.encode())
                    return

    folder.pdf(on)
    return (decal["name"],)


@harm("print: a decal's picture replaced by a coarse one")
def _(folder: Folder) -> tuple[str, ...]:
    names: list[str] = []

    def coarse(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            for name, form in page.Resources.XObject.items():
                for image in _images(form, 0):
                    stream = pikepdf.PdfImage(image).as_pil_image().convert("RGB")
                    small = stream.resize((max(2, stream.width // 40), max(2, stream.height // 40)))
                    image.write(small.tobytes())
                    image.Width, image.Height = small.size
                    image.ColorSpace, image.BitsPerComponent = Name.DeviceRGB, 8
                    names.append(folder.decal(int(str(name).removeprefix("/Decal")))["name"])
                    return

    folder.pdf(coarse)
    if not names:  # no picture: a decal's art is turned upside down instead
        return _form(folder, lambda form: setattr(form, "Matrix", Array([-1, 0, 0, -1, 0, 0])))
    return tuple(names)


def _images(form: pikepdf.Object, depth: int) -> list[pikepdf.Object]:
    found = []
    for _, thing in form.get("/Resources", Dictionary()).get("/XObject", Dictionary()).items():
        if thing.get("/Subtype") == "/Image":
            found.append(thing)
        elif depth < 4:
            found += _images(thing, depth + 1)
    return found


# the proof


def _proof(folder: Folder, change: Callable[[pikepdf.Pdf], None]) -> None:
    path = folder.path / "proof.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(path)


@harm("proof: cut short")
def _(folder: Folder) -> tuple[str, ...]:
    return _short(folder, "proof.pdf")


@harm("proof: the pages of the frames lost")
def _(folder: Folder) -> tuple[str, ...]:
    def drop(pdf: pikepdf.Pdf) -> None:
        while len(pdf.pages) > 1:
            del pdf.pages[-1]

    _proof(folder, drop)
    return ("proof.pdf, frame",)


@harm("proof: every drawing of a page moved apart from its frame")
def _(folder: Folder) -> tuple[str, ...]:
    def stretch(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            _around(pdf, page, lambda w, h: [1, 0, 0.02, 1.02, 0, 0])

    _proof(folder, stretch)
    return ("proof.pdf",)


@harm("proof: a copy taken from its drawings")
def _(folder: Folder) -> tuple[str, ...]:
    def drop(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            operators = list(pikepdf.parse_content_stream(page))
            uses = [k for k, op in enumerate(operators) if str(op.operator) == "Do"]
            arts = [k for k in uses if str(operators[k].operands[0]).startswith("/Art")]
            if len(arts) > 1:
                del operators[arts[0]]
                page.obj.Contents = pdf.make_stream(pikepdf.unparse_content_stream(operators))

    _proof(folder, drop)
    return ("proof.pdf",)


# the cut layer


def _cut(folder: Folder, change: Callable[[etree._Element, dict[str, Any]], None]) -> str:
    frame = folder.frame()
    folder.svg(frame, lambda root: change(root, frame))
    return f"cut-{frame['index']:02d}.svg"


def _one(folder: Folder, change: Callable[[etree._Element], None]) -> tuple[str, ...]:
    """Change the outermost ring of one copy."""
    frame = folder.frame()
    place = folder.copy(frame)

    def on(root: etree._Element) -> None:
        paths = rings(root, place)
        change(max(paths, key=lambda path: np.ptp(points(path), axis=0).sum()))

    folder.svg(frame, on)
    return (folder.named(place),)


@harm("cut: viewBox larger")
def _(folder: Folder) -> tuple[str, ...]:
    def grow(root: etree._Element, _: dict[str, Any]) -> None:
        box = [float(value) for value in root.get("viewBox").split()]
        root.set("viewBox", f"0 0 {box[2] * 1.01} {box[3] * 1.01}")

    return (_cut(folder, grow),)


@harm("cut: size in inches' worth of points")
def _(folder: Folder) -> tuple[str, ...]:
    def points_of(root: etree._Element, _: dict[str, Any]) -> None:
        root.set("width", root.get("width").replace("mm", "pt"))
        root.set("height", root.get("height").replace("mm", "pt"))

    return (_cut(folder, points_of),)


@harm("cut: a layer transformed")
def _(folder: Folder) -> tuple[str, ...]:
    return (
        _cut(folder, lambda root, _: root.find(f"{SVG}g").set("transform", "translate(0 0.4)")),
    )


@harm("cut: a layer hidden")
def _(folder: Folder) -> tuple[str, ...]:
    return (_cut(folder, lambda root, _: root.find(f"{SVG}g").set("display", "none")),)


@harm("cut: a line that is no ring")
def _(folder: Folder) -> tuple[str, ...]:
    def line(root: etree._Element, _: dict[str, Any]) -> None:
        etree.SubElement(root.find(f"{SVG}g"), f"{SVG}line", x1="0", y1="0", x2="90", y2="90")

    return (_cut(folder, line),)


@harm("cut: a path left open")
def _(folder: Folder) -> tuple[str, ...]:
    return _one(folder, lambda path: path.set("d", path.get("d").replace("Z", "")))


@harm("cut: a path with a curve")
def _(folder: Folder) -> tuple[str, ...]:
    return _one(folder, lambda path: path.set("d", path.get("d").replace("Z", "q 1 1 2 0 Z")))


@harm("cut: a corner dented by 0.3 mm")
def _(folder: Folder) -> tuple[str, ...]:
    def dent(path: etree._Element) -> None:
        xy = points(path)
        inward = xy.mean(axis=0) - xy[1]
        xy[1] += 0.3 * inward / np.hypot(*inward)
        write_points(path, xy)

    return _one(folder, dent)


@harm("cut: two corners exchanged, so that the ring crosses itself")
def _(folder: Folder) -> tuple[str, ...]:
    def cross(path: etree._Element) -> None:
        xy = points(path)
        xy[[0, len(xy) // 2]] = xy[[len(xy) // 2, 0]]
        write_points(path, xy)

    return _one(folder, cross)


@harm("cut: a ring twice")
def _(folder: Folder) -> tuple[str, ...]:
    def twice(path: etree._Element) -> None:
        path.addnext(etree.fromstring(etree.tostring(path)))

    return _one(folder, twice)


@harm("cut: a copy mirrored")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    place = folder.copy(frame)

    def mirror(root: etree._Element) -> None:
        for path in rings(root, place):
            xy = points(path)
            write_points(path, xy * (-1, 1) + (2 * place["x_mm"], 0))

    folder.svg(frame, mirror)
    return (folder.named(place),)


@harm("cut: a copy on the other layer")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    place = folder.copy(frame)

    def put(root: etree._Element) -> None:
        groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
        for path in rings(root, place):
            other = "through" if path.getparent().get("id") == "kiss" else "kiss"
            groups[other].append(path)

    folder.svg(frame, put)
    return (folder.named(place),)


@harm("cut: a hole after its outline")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    with_holes = [p for p in frame["placements"] if len(folder.decal(p["decal"])["contour"]) > 1]
    if not with_holes:
        return _one(folder, lambda path: path.set("d", "M0 0"))
    place = with_holes[0]

    def late(root: etree._Element) -> None:
        paths = rings(root, place)
        big = max(paths, key=lambda path: np.ptp(points(path), axis=0).sum())
        parent = big.getparent()
        parent.insert(parent.index(paths[0]), big)

    folder.svg(frame, late)
    return (folder.named(place),)


@harm("cut: a mark moved by half a millimetre")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    mark = _a_mark(folder, frame)

    def shift(root: etree._Element) -> None:
        for path in root.iter(f"{SVG}path"):
            if path.get("data-mark") == str(mark["mark"]):
                write_points(path, points(path) + (0.5, 0))

    folder.svg(frame, shift)
    return (f"mark {mark['mark']}",)


@harm("cut: marks numbered otherwise")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()

    def renumber(root: etree._Element) -> None:
        marks = [path for path in root.iter(f"{SVG}path") if path.get("data-mark")]
        for path, other in zip(marks, [each.get("data-mark") for each in marks[::-1]], strict=True):
            path.set("data-mark", other)

    folder.svg(frame, renumber)
    return (f"cut-{frame['index']:02d}.svg, mark",)


@harm("cut: copies of a decal labelled otherwise")
def _(folder: Folder) -> tuple[str, ...]:
    frame = folder.frame()
    place = folder.copy(frame)

    def label(root: etree._Element) -> None:
        for path in rings(root, place):
            path.set("data-copy", "9999")

    folder.svg(frame, label)
    return (folder.named(place),)


@harm("cut: cut short")
def _(folder: Folder) -> tuple[str, ...]:
    return _short(folder, "cut-01.svg")


# the DXF


def _dxf(
    folder: Folder,
    change: Callable[[list[list[str]], dict[str, Any]], Any],
    frame: dict[str, Any] | None = None,
) -> Any:
    """Change the entities of a frame's DXF: each a list of its lines."""
    frame = frame or folder.frame()
    path = folder.path / f"cut-{frame['index']:02d}.dxf"
    text = path.read_text()
    start = text.index("ENTITIES\n") + len("ENTITIES\n")
    end = text.index("  0\nENDSEC\n", start)
    body = text[start:end]
    entities = [f"  0\n{part}".splitlines() for part in body.split("  0\n")[1:]]
    words = change(entities, frame)
    whole = text[:start] + "".join("\n".join(each) + "\n" for each in entities) + text[end:]
    path.write_text(whole)
    return words


def _of(entity: list[str]) -> list[int]:
    return [int(entity[k + 1]) for k in range(0, len(entity), 2) if entity[k].strip() == "1071"]


def _dxf_copy(folder: Folder, change: Callable[[list[str]], list[str] | None]) -> tuple[str, ...]:
    """Change one ring; None takes it away."""

    def on(entities: list[list[str]], _: dict[str, Any]) -> tuple[str, ...]:
        cuts = [k for k, each in enumerate(entities) if len(_of(each)) == 2]
        k = cuts[folder.rng.integers(len(cuts))]
        decal, copy = _of(entities[k])
        changed = change(entities[k])
        if changed is None:
            del entities[k]
        else:
            entities[k] = changed
        return (f"{folder.decal(decal)['name']}, copy {copy}",)

    return _dxf(folder, on)


def _shifted(entity: list[str], code: str, by: float) -> list[str]:
    return [
        str(float(value) + by) if k % 2 and entity[k - 1].strip() == code else value
        for k, value in enumerate(entity)
    ]


@harm("DXF: in inches")
def _(folder: Folder) -> tuple[str, ...]:
    path = folder.path / "cut-01.dxf"
    path.write_text(path.read_text().replace("$INSUNITS\n 70\n4\n", "$INSUNITS\n 70\n1\n"))
    return ("cut-01.dxf",)


@harm("DXF: a ring moved by 0.2 mm")
def _(folder: Folder) -> tuple[str, ...]:
    return _dxf_copy(folder, lambda entity: _shifted(entity, "10", 0.2))


@harm("DXF: a ring lost")
def _(folder: Folder) -> tuple[str, ...]:
    return _dxf_copy(folder, lambda entity: None)


@harm("DXF: a ring on another layer")
def _(folder: Folder) -> tuple[str, ...]:
    other = {"kiss": "through", "through": "kiss"}
    return _dxf_copy(folder, lambda entity: [other.get(value, value) for value in entity])


@harm("DXF: a ring bulging")
def _(folder: Folder) -> tuple[str, ...]:
    def bulge(entity: list[str]) -> list[str]:
        if "CIRCLE" in entity:
            return _shifted(entity, "40", 0.2)
        k = next(k for k in range(0, len(entity), 2) if entity[k].strip() == "20")
        return [*entity[: k + 2], " 42", "0.05", *entity[k + 2 :]]

    return _dxf_copy(folder, bulge)


@harm("DXF: a ring left open")
def _(folder: Folder) -> tuple[str, ...]:
    def leave(entity: list[str]) -> list[str]:
        if "CIRCLE" in entity:
            return [value.replace("CIRCLE", "ARC") for value in entity]
        k = next(k for k in range(0, len(entity), 2) if entity[k].strip() == "70")
        return [*entity[: k + 1], "0", *entity[k + 2 :]]

    return _dxf_copy(folder, leave)


@harm("DXF: two rings in another order")
def _(folder: Folder) -> tuple[str, ...]:
    def swap(entities: list[list[str]], frame: dict[str, Any]) -> tuple[str, ...]:
        cuts = [k for k, each in enumerate(entities) if len(_of(each)) == 2]
        layers = {k: "kiss" if "kiss" in entities[k] else "through" for k in cuts}
        a, b = next(
            (a, b)
            for a in cuts
            for b in cuts
            if layers[a] == layers[b] and _of(entities[a]) != _of(entities[b])
        )
        entities[a], entities[b] = entities[b], entities[a]
        return (f"cut-{frame['index']:02d}.dxf",)

    fullest = max(folder.summary["frames"], key=lambda frame: len(frame["placements"]))
    return _dxf(folder, swap, fullest)


@harm("DXF: a mark moved")
def _(folder: Folder) -> tuple[str, ...]:
    def shift(entities: list[list[str]], _: dict[str, Any]) -> tuple[str, ...]:
        k = next(k for k, each in enumerate(entities) if len(_of(each)) == 1)
        entities[k] = _shifted(entities[k], "20", 0.5)
        return (f"mark {_of(entities[k])[0]}",)

    return _dxf(folder, shift)


@harm("DXF: a straight line more")
def _(folder: Folder) -> tuple[str, ...]:
    def line(entities: list[list[str]], frame: dict[str, Any]) -> tuple[str, ...]:
        words = [
            "0",
            "LINE",
            "8",
            "kiss",
            "10",
            "0.0",
            "20",
            "0.0",
            "30",
            "0.0",
            "11",
            "50.0",
            "21",
            "50.0",
            "31",
            "0.0",
        ]
        entities.append(words)
        return (f"cut-{frame['index']:02d}.dxf",)

    return _dxf(folder, line)


@harm("DXF: cut short")
def _(folder: Folder) -> tuple[str, ...]:
    return _short(folder, "cut-01.dxf")


# the tables


def _cell(folder: Folder, name: str, line: int, column: int, value: str) -> list[str]:
    path = folder.path / name
    rows = [row.split(",") for row in path.read_bytes().decode("utf-8-sig").split("\r\n")]
    before = list(rows[line])
    rows[line][column] = value
    path.write_bytes("\r\n".join(",".join(row) for row in rows).encode("utf-8"))
    return before


@harm("tables: a copy's place")
def _(folder: Folder) -> tuple[str, ...]:
    row = _cell(folder, "placements.csv", 2, 4, "1.5")
    return (f"{row[2]}, copy {row[3]}",)


@harm("tables: a mark's place")
def _(folder: Folder) -> tuple[str, ...]:
    row = _cell(folder, "marks.csv", 3, 3, "9.75")
    return (f"mark {row[1]}",)


@harm("tables: a price")
def _(folder: Folder) -> tuple[str, ...]:
    row = _cell(folder, "decals.csv", 1, 9, "0.0100")
    return (row[1],)


@harm("tables: a line lost")
def _(folder: Folder) -> tuple[str, ...]:
    path = folder.path / "placements.csv"
    rows = path.read_bytes().split(b"\r\n")
    lost = rows.pop(1).decode().split(",")
    path.write_bytes(b"\r\n".join(rows))
    return (f"{lost[2]}, copy {lost[3]}",)


@harm("tables: the length of film")
def _(folder: Folder) -> tuple[str, ...]:
    row = _cell(folder, "figures.csv", 1, 1, "1")
    return (row[0],)


# the summary alone: its tables agree with it


def _summary(name: str, change: Callable[[dict[str, Any]], tuple[str, ...]]) -> None:
    def on(folder: Folder) -> tuple[str, ...]:
        words = change(folder.summary)
        for table, data in tables(folder.summary).items():
            (folder.path / table).write_bytes(data)
        return words

    harm(f"summary: {name}", bent=True)(on)


def _set(*path: Any, times: float = 1.0, plus: float = 0.0) -> Callable[[dict[str, Any]], None]:
    def on(said: dict[str, Any]) -> None:
        *way, key = path
        part: Any = said
        for step in way:
            part = part[step]
        part[key] = part[key] * times + plus

    return on


def _figure(name: str, words: tuple[str, ...], *path: Any, **by: float) -> None:
    def on(said: dict[str, Any]) -> tuple[str, ...]:
        _set(*path, **by)(said)
        return words or (said["decals"][0]["name"],)

    _summary(name, on)


_figure("a decal's area", (), "decals", 0, "area_mm2", times=1.01)
_figure("a decal's width", (), "decals", 0, "width_mm", plus=0.5)
_figure("a decal's bleed", (), "decals", 0, "bleed_mm", plus=1.0)
_figure("the length of the nest", ("nest.length_mm",), "nest", "length_mm", times=0.99)
_figure("the bound beyond the nest", ("nest.bound_mm",), "nest", "bound_mm", times=1e3)
_figure("the share of film used", ("nest.used_percent",), "nest", "used_percent", plus=1.0)
_figure("the length of film", ("roll.",), "roll", "length_used_mm", plus=-200.0)
_figure("the length of the cut", ("cut.length_mm",), "cut", "length_mm", times=0.95)
_figure("the number of copies", ("nest.copies",), "nest", "copies", plus=-1)
_figure("the predicted error", ("error_",), "marks", "error_p95_mm", times=0.5)
_figure("the clear zone", ("mark",), "marks", "clear_mm", plus=60.0)
_figure("a mark's size", ("mark",), "marks", "size_mm", plus=0.5)
_figure("a frame's start", ("frame 1", "page 1", "cut-01", "frame"), "frames", 0, "y0_mm", plus=5.0)
_figure("a frame's length", ("page 1", "cut-01"), "frames", 0, "length_mm", plus=2.0)
_figure("the film's width", ("cut-01",), "roll", "width_mm", plus=50.0)


def _total(said: dict[str, Any]) -> tuple[str, ...]:
    said["cost"]["total"] = "1.00"
    return ("cost.",)


def _ordered(said: dict[str, Any]) -> tuple[str, ...]:
    said["decals"][0]["ordered"] -= 1
    return (said["decals"][0]["name"],)


def _gutter(said: dict[str, Any]) -> tuple[str, ...]:
    said["inputs"]["job"]["gutter_mm"] = 60.0
    return ("copy",)


_summary("the total of the cost", _total)
_summary("a number ordered", _ordered)
_summary("a wider gutter than was kept", _gutter)


# the folder


@harm("folder: a DXF gone")
def _(folder: Folder) -> tuple[str, ...]:
    (folder.path / "cut-01.dxf").unlink()
    return ("cut-01.dxf",)


@harm("folder: a cut layer gone")
def _(folder: Folder) -> tuple[str, ...]:
    (folder.path / "cut-01.svg").unlink()
    return ("cut-01.svg",)


@harm("folder: a table gone, and no longer listed", bent=True)
def _(folder: Folder) -> tuple[str, ...]:
    (folder.path / "marks.csv").unlink()
    del folder.summary["files"]["marks.csv"]
    return ("marks.csv",)


@harm("folder: a cut layer more")
def _(folder: Folder) -> tuple[str, ...]:
    shutil.copy(folder.path / "cut-01.svg", folder.path / "cut-99.svg")
    return ("cut-99.svg",)


@harm("folder: the cut layer of another frame under its name")
def _(folder: Folder) -> tuple[str, ...]:
    last = f"cut-{len(folder.summary['frames']):02d}.svg"
    if last == "cut-01.svg":
        return _short(folder, last)
    shutil.copy(folder.path / last, folder.path / "cut-01.svg")
    return ("cut-01.svg",)
