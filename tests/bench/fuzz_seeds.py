"""Good input of each reader for the fuzzing: small, and between them most of what a format has.

Input that the reader refuses teaches nothing of what lies behind the door, so each of these is
read to its end; `tests/bench/test_fuzz_seeds.py` holds that.
"""

import base64
import io
from pathlib import Path

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream
from PIL import Image

from nestplan.files.writer import run_files
from tests.files.handmade import a_run
from tests.small_job import BURGEE_SVG, JOB_TOML, PLATE_SVG, SHOP_TOML

DEMO = Path(__file__).parents[2] / "demo_jobs"
MM = 72 / 25.4
HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'width="88mm" height="58mm" viewBox="0 0 88 58">'
)
CUT = '<g id="outline"><path d="M4 4H84V54H4Z" fill="none" stroke="#d0006f"/></g>'


def pixels(kind: str, mode: str, **save: object) -> bytes:
    """A small picture: a blue plate with a hole on white, or on nothing."""
    held = io.BytesIO()
    colour = Image.new("RGBA", (60, 40), (255, 255, 255, 0))
    colour.paste((20, 90, 160, 255), (8, 8, 50, 32))
    colour.paste((255, 255, 255, 0), (20, 14, 30, 24))
    flat = Image.new("RGB", colour.size, (255, 255, 255))
    flat.paste(colour, mask=colour.getchannel("A"))
    match mode:
        case "RGBA" | "LA" | "PA":
            picture = colour.convert(mode)
        case "I;16":
            picture = Image.fromarray(np.asarray(flat.convert("L")).astype(np.uint16) * 257)
        case _:
            picture = flat.convert(mode)
    picture.save(held, kind, **save)
    return held.getvalue()


def drawing(*inner: str) -> bytes:
    """A drawing with a drawn cut line."""
    return f"{HEAD}{''.join(inner)}{CUT}</svg>".encode()


def drawings() -> list[bytes]:
    """Art as programs save it: one drawing for each part of the format that is read."""
    data = base64.b64encode(pixels("PNG", "RGBA")).decode()
    return [
        BURGEE_SVG.encode(),
        PLATE_SVG.encode(),
        (DEMO / "regatta/art/compass_star.svg").read_bytes(),
        (DEMO / "shift/art/sign.svg").read_bytes(),
        drawing(
            '<linearGradient id="g" x1="0" x2="1"><stop offset="0" stop-color="#c33"/>'
            '<stop offset="1" stop-color="#36c" stop-opacity=".4"/></linearGradient>'
            '<radialGradient id="r" xlink:href="#g" cx=".4" r=".6"/>'
            '<rect width="88" height="30" fill="url(#g)"/><rect y="30" width="88" height="28" '
            'fill="url(#r)" transform="rotate(3 40 40) skewX(2)"/>'
        ),
        drawing(
            "<style>.a, g > rect:first-child { fill: #2a6; stroke: #124; stroke-width: 1.5 } "
            "#b[x] ~ circle { fill: rgb(20%, 30%, 40%) } /* words */</style>"
            '<g><rect id="b" class="a" x="6" y="6" width="70" height="40" rx="4"/>'
            '<circle cx="40" cy="28" r="15"/></g>'
        ),
        drawing(
            '<defs><symbol id="s" viewBox="0 0 10 10"><path d="M0 0h10v10z"/></symbol>'
            '<g id="t"><ellipse cx="20" cy="20" rx="9" ry="5"/></g></defs>'
            '<use xlink:href="#s" x="6" y="6" width="30" height="30"/>'
            '<use xlink:href="#t" transform="translate(30 10) scale(1.2)"/>'
        ),
        drawing(
            '<clipPath id="c"><circle cx="44" cy="29" r="22"/></clipPath>'
            '<mask id="m"><rect width="88" height="58" fill="#fff"/></mask>'
            '<g clip-path="url(#c)" mask="url(#m)"><rect width="88" height="58" fill="#963"/></g>'
        ),
        drawing(
            '<path d="M8 8C20 2 30 20 44 12S70 30 80 20Q60 40 50 44T20 50A9 6 20 1 0 12 30zm5 5'
            'l9 1-3 8z" fill="#27a" fill-rule="evenodd" stroke="#111" stroke-width=".8" '
            'stroke-dasharray="3 1" stroke-linejoin="round" stroke-linecap="square"/>'
            '<polygon points="50,8 60,30 40,30"/><polyline points="5 50 20 45 40 52" '
            'fill="none" stroke="#800" stroke-width="2" stroke-miterlimit="3"/>'
        ),
        drawing(
            '<pattern id="p" width="6" height="6" patternUnits="userSpaceOnUse">'
            '<rect width="3" height="3" fill="#493"/></pattern>'
            '<rect width="88" height="58" fill="url(#p)"/>'
            '<svg x="10" y="10" width="20" height="20" viewBox="0 0 4 4"><rect width="4" '
            'height="2"/></svg>'
        ),
        drawing(
            '<rect width="88" height="58" fill="#eee"/>'
            '<g display="none"><text x="10" y="30" font-family="DejaVu Sans" font-size="9">quay '
            '<tspan font-weight="bold" dx="1">north</tspan></text></g>'
        ),
        drawing(
            f'<image xlink:href="data:image/png;base64,{data}" x="5" y="5" width="60" '
            'height="40" preserveAspectRatio="xMidYMid slice"/>',
        ),
        drawing(
            '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
            '<rect x="9" y="9" width="60" height="30" filter="url(#f)" opacity=".6"/>'
            '<marker id="k" markerWidth="4" markerHeight="4"><path d="M0 0h4v4z"/></marker>'
            '<path d="M9 9L40 40" stroke="#000" marker-end="url(#k)" style="fill:none"/>'
        ),
    ]


def all_pixels() -> list[bytes]:
    """Every kind and mode that a shop is sent."""
    return [
        *(pixels("PNG", mode) for mode in ("RGBA", "RGB", "P", "LA", "1", "I;16")),
        pixels("PNG", "RGB", dpi=(300, 150)),
        *(pixels("JPEG", mode, quality=90) for mode in ("RGB", "L", "CMYK")),
        pixels("JPEG", "RGB", progressive=True, dpi=(200, 200)),
        *(pixels("TIFF", mode) for mode in ("RGBA", "RGB", "CMYK", "L", "I;16")),
        *(pixels("TIFF", "RGB", compression=how) for how in ("tiff_lzw", "tiff_deflate")),
        pixels("WEBP", "RGBA", lossless=True),
        pixels("WEBP", "RGB"),
    ]


def plain(data: bytes) -> bytes:
    """A PDF with nothing packed, so that its operators are mutated too."""
    held = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as pdf:
        pdf.save(
            held,
            compress_streams=False,
            stream_decode_level=pikepdf.StreamDecodeLevel.generalized,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
        )
    return held.getvalue()


def page(content: str, turned: int = 0) -> bytes:
    """A small page with a layer, a spot ink, a form, a picture, a shading and a soft mask."""
    pdf = Pdf.new()
    sheet = pdf.add_blank_page(page_size=(88 * MM, 58 * MM))
    layer = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="knife"))
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array([layer]), D=Dictionary(Order=Array([layer]), OFF=Array([]))
    )
    tint = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[0, 1, 0, 0], N=1)
    fade = Dictionary(FunctionType=2, Domain=[0, 1], C0=[1, 0, 0], C1=[0, 0, 1], N=1)
    form = Stream(pdf, b"0 .5 .8 rg 0 0 20 10 re f")
    form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, Array([0, 0, 20, 10])
    picture = Stream(
        pdf, bytes(range(192)), Type=Name.XObject, Subtype=Name.Image, Width=8, Height=8
    )
    picture.ColorSpace, picture.BitsPerComponent = Name.DeviceRGB, 8
    font = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
    sheet.Resources = Dictionary(
        Properties=Dictionary(K=layer),
        ColorSpace=Dictionary(Cut=Array([Name.Separation, Name.Knife, Name.DeviceCMYK, tint])),
        XObject=Dictionary(F=form, I=picture),
        Shading=Dictionary(
            S=Dictionary(
                ShadingType=2, ColorSpace=Name.DeviceRGB, Coords=Array([0, 0, 80, 0]), Function=fade
            )
        ),
        ExtGState=Dictionary(T=Dictionary(ca=0.5, CA=0.5, BM=Name.Multiply)),
        Font=Dictionary(H=font),
    )
    sheet.Contents = Stream(pdf, f"{MM:.6f} 0 0 {MM:.6f} 0 0 cm\n{content}".encode())
    sheet.obj.TrimBox = Array([4 * MM, 4 * MM, 84 * MM, 54 * MM])
    sheet.obj.Rotate = turned
    held = io.BytesIO()
    pdf.save(held, compress_streams=False, deterministic_id=True)
    return held.getvalue()


LINES = (
    "/OC /K BDC q 1 0 1 RG .2 w 6 6 m 80 6 l 80 50 l 6 50 l h S Q EMC\n"
    "q /Cut CS 1 SCN .2 w 7 7 m 70 7 l 70 40 l 7 40 l h S Q\n"
)


def pages() -> list[bytes]:
    """Art as PDF: drawn cut lines in a layer and a spot ink, and all that paints."""
    return [
        page(f".2 .4 .9 rg 0 0 88 58 re f {LINES}"),
        page(f"0 .3 .8 .1 k 2 2 84 54 re f* q 20 20 m 30 40 50 40 60 20 c W n /S sh Q {LINES}"),
        page(f"q 2 0 0 2 10 10 cm /F Do Q q 20 0 0 15 30 30 cm /I Do Q {LINES}", 90),
        page(
            f"/T gs .9 g 0 0 88 58 re f BT /H 9 Tf 10 20 Td (quay) Tj ET {LINES}"
            "q 9 0 0 9 60 9 cm BI /W 2 /H 2 /CS /G /BPC 8 ID \x10\x40\x80\xf0 EI Q"
        ),
        page(f"q [3 1] 0 d 2 w 1 j 1 J 5 5 m 60 20 l 20 50 l s Q .5 G 3 w 9 9 30 20 re B {LINES}"),
    ]


FILES = run_files(a_run())
BOOK: list[bytes] = [
    name.encode() + b"\0" + (plain(data) if name == "print.pdf" else data)
    for name, data in FILES.items()
]
ROW_SVG = drawing(
    '<rect width="88" height="58" fill="#eee"/><text data-row="number" x="20" y="30" '
    'font-family="DejaVu Sans" font-size="12">00</text>'
)
TIMINGS = "plan,stage,time\nout/a,print,9:20\nout/a,cut,12 min 5 s\nout/b,run,1:02:03\n"
MEASURED = [
    FILES["marks.csv"],
    b"frame;mark;x_mm;y_mm\n1;1;24,05;62,1\n1;2;576,1;62,0\n1;3;24,0;438,2\n",
]
GOOD: dict[str, list[bytes]] = {
    "path": [b"M0 0C1 2 3 4 5 6S7 8 9 9Q1 1 2 2T3 3A5 5 0 0 1 9 9Zm.5.5-1-2", b"M1,2h3v4z"],
    "svg": drawings(),
    "pdf": pages(),
    "pixels": all_pixels(),
    "rows": [(DEMO / "numbers/boats.csv").read_bytes(), b'number;name\n1;"a ""b"""\n2;c\n'],
    "job": [JOB_TOML.encode(), *(each.read_bytes() for each in sorted(DEMO.glob("*/*.toml")))],
    "shop": [SHOP_TOML.encode(), (DEMO / "shop.toml").read_bytes()],
    "dxf": [FILES["cut-01.dxf"], FILES["cut-02.dxf"]],
    "cut": [FILES["cut-01.svg"], FILES["cut-02.svg"]],
    "table": MEASURED,
    "timings": [TIMINGS.encode(), TIMINGS.replace(",", ";").encode()],
    "check": BOOK,
}
