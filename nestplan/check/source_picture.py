"""The artwork's own file as a picture, by renderers that had no part in the print.

What a job takes out of the art before it is printed is taken out here too: the layer or the
ink of a cut line, and text that is another one copy by copy.
"""

import io
from collections.abc import Callable
from pathlib import PurePosixPath

import pikepdf
import pypdfium2
import resvg_py
from lxml import etree
from PIL import Image, ImageOps

from nestplan.check.pdf_content import BROKEN

LONG_PX = 1600  # longer side of a picture of a drawing
LONG_MOST_PX = 8000
PIXELS_MOST = 60_000_000
SVG = "{http://www.w3.org/2000/svg}"
ROW = "data-row"

Render = Callable[[int], Image.Image]  # longer side in pixels: the picture, on white


class Unseen(Exception):
    """The art cannot be rendered here; that is no fault of the plan's."""


def renderer(data: bytes, path: str, contour: str) -> Render:
    """What renders an artwork file. contour: the job's rule for its cut line. raises: Unseen."""
    kind = PurePosixPath(path).suffix.lower()
    rule, _, name = contour.partition(":")
    if kind == ".svg":
        text = _svg_without(data, name if rule == "layer" else None)
        return lambda long_px: _drawn(text, long_px)
    if kind == ".pdf":
        changed = _pdf_without(data, rule, name)
        return lambda long_px: _page(changed, long_px)
    page = _pixels_page(data)
    return lambda long_px: _page(page, long_px)


def _svg_without(data: bytes, layer: str | None) -> str:
    parser = etree.XMLParser(resolve_entities=True, no_network=True, load_dtd=False)
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise Unseen(str(error)) from error
    gone = []
    for element in root.iter(etree.Element):
        named = layer is not None and layer in _names(element)
        text = element.tag == f"{SVG}text"
        if named or (text and any(each.get(ROW) is not None for each in element.iter())):
            gone.append(element)
    for element in gone:
        parent = element.getparent()
        if parent is None:  # then all of it is cut line
            for child in list(element):
                element.remove(child)
        else:
            parent.remove(element)
    return str(etree.tostring(root, encoding="unicode"))


def _names(element: etree._Element) -> set[str]:
    """Its id, labels and title, as a person reads them."""
    keys = ("id", "label", "data-name")
    given = element.attrib.items()
    names = {str(text).strip() for key, text in given if str(key).rpartition("}")[2] in keys}
    names |= {"".join(child.itertext()).strip() for child in element.iterchildren(f"{SVG}title")}
    return names | {name.replace("_x20_", " ") for name in names}


def _drawn(text: str, long_px: int) -> Image.Image:
    try:
        small = _svg_png(text, None)
        zoom = long_px / max(small.size)
        return _on_white(_svg_png(text, zoom))
    except (ValueError, RuntimeError, OSError) as error:
        raise Unseen(str(error)) from error


def _svg_png(text: str, zoom: float | None) -> Image.Image:
    png = resvg_py.svg_to_bytes(svg_string=text, dpi=96, skip_system_fonts=True, zoom=zoom)
    return Image.open(io.BytesIO(bytes(png)))


def _pdf_without(data: bytes, rule: str, name: str) -> bytes:
    """The document with the layer or the ink of its cut line off: ISO 32000-1 8.11, 8.6.6.4."""
    if rule not in ("layer", "spot"):
        return data
    try:
        with pikepdf.open(io.BytesIO(data)) as pdf:
            if rule == "layer":
                about = pdf.Root.get("/OCProperties", pikepdf.Dictionary())
                view = about.get("/D", pikepdf.Dictionary())
                off = list(view.get("/OFF", ()))
                off += [each for each in about.get("/OCGs", ()) if str(each.get("/Name")) == name]
                view.OFF = pikepdf.Array(off)
            for each in pdf.objects if rule == "spot" else ():
                spaces = each.get("/ColorSpace") if isinstance(each, pikepdf.Dictionary) else None
                _hide(spaces, name)
                if isinstance(each, pikepdf.Dictionary | pikepdf.Stream):
                    inside = each.get("/Resources", pikepdf.Dictionary())
                    if isinstance(inside, pikepdf.Dictionary):
                        _hide(inside.get("/ColorSpace"), name)
            held = io.BytesIO()
            pdf.save(held)
            return held.getvalue()
    except BROKEN as error:
        raise Unseen(str(error)) from error


def _hide(spaces: object, name: str) -> None:
    """Let a separation print nothing: the colorant None produces no ink."""
    if isinstance(spaces, pikepdf.Dictionary):
        for space in spaces.values():
            named = isinstance(space, pikepdf.Array) and str(space[0]) == "/Separation"
            if named and str(space[1]).removeprefix("/") == name:
                space[1] = pikepdf.Name("/None")


def _pixels_page(data: bytes) -> bytes:
    """A picture of pixels as a page of one image, so that one renderer makes all colours."""
    try:
        with Image.open(io.BytesIO(data)) as opened:
            if opened.width * opened.height > PIXELS_MOST:
                raise Unseen("too many pixels")
            opened.load()
            dpi = opened.info.get("dpi", (72.0, 72.0))
            tall = float(dpi[0]) / float(dpi[1]) if min(map(float, dpi)) > 0 else 1.0
            profile = opened.info.get("icc_profile")
            image = ImageOps.exif_transpose(opened)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise Unseen(str(error)) from error
    if image.mode.startswith("I") or image.mode == "F":
        raise Unseen("its pixels are of a depth that is not read here")
    if image.mode not in ("L", "RGB", "CMYK"):
        image = _on_white(image, tall=1.0)
    space, parts = {"L": ("Gray", 1), "RGB": ("RGB", 3), "CMYK": ("CMYK", 4)}[image.mode]
    wide, high = image.size
    with pikepdf.new() as pdf:
        long_pt = max(wide, high * tall) / 1000
        page = pdf.add_blank_page(page_size=(wide / long_pt, high * tall / long_pt))
        stream = pikepdf.Stream(pdf, image.tobytes())
        stream.Type, stream.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        stream.Width, stream.Height, stream.BitsPerComponent = wide, high, 8
        stream.ColorSpace = pikepdf.Name(f"/Device{space}")
        if isinstance(profile, bytes):
            tagged = pikepdf.Stream(pdf, profile)
            tagged.N = parts
            stream.ColorSpace = pikepdf.Array([pikepdf.Name.ICCBased, tagged])
        page.obj.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(I=stream))
        box = [float(value) for value in page.mediabox]
        page.obj.Contents = pdf.make_stream(f"q {box[2]} 0 0 {box[3]} 0 0 cm /I Do Q".encode())
        held = io.BytesIO()
        pdf.save(held)
        return held.getvalue()


def _page(data: bytes, long_px: int) -> Image.Image:
    try:
        document = pypdfium2.PdfDocument(data)
        try:
            page = document[0]
            scale = long_px / max(page.get_size())
            bitmap = page.render(scale=scale, may_draw_forms=False, draw_annots=False)
            image: Image.Image = bitmap.to_pil().convert("RGB")
            return image
        finally:
            document.close()
    except (pypdfium2.PdfiumError, IndexError, ValueError, ZeroDivisionError) as error:
        raise Unseen(str(error)) from error


def _on_white(image: Image.Image, tall: float = 1.0) -> Image.Image:
    over = image.convert("RGBA")
    white = Image.new("RGBA", over.size, (255, 255, 255, 255))
    return Image.alpha_composite(white, over).convert("RGB")
