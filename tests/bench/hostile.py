"""Benchmark of hostile input: `python -m tests.bench.hostile --json FILE`.

Each case is a job folder with one thing in it that was made to hurt: bombs, endless references,
numbers without measure, files and addresses outside. It is planned in a process of its own;
time, peak memory and exit code are measured, a traceback is a failure. A named pipe and a
listening port stand outside the folder: whoever opens the pipe hangs, whoever calls is heard.
"""

import argparse
import base64
import io
import json
import multiprocessing
import os
import shutil
import socket
import struct
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name
from PIL import Image

from tests.small_job import changed, write_small_job

SECONDS, MIB = 10.0, 1024
HANGS_S = 300.0  # by the clock, beside other work too
STEPS = 300
ART = "art/burgee.svg"
XLINK = 'xmlns:xlink="http://www.w3.org/1999/xlink"'
CUT = '<path id="outline" d="M4 4 H81 V54 H4 Z" fill="none" stroke="#d0006f"/>'
CASES: dict[str, Callable[[Path], object]] = {
    "nothing hostile: the small job as it is": lambda folder: None
}


def case(name: str) -> Callable:
    """Add a case: it changes the small job's folder."""

    def added(make: Callable[[Path], object]) -> Callable:
        CASES[name] = make
        return make

    return added


def svg(inner: str, head: str = "", size: str = "88mm", box: str = "0 0 88 58") -> bytes:
    """A drawing."""
    return (
        f'{head}<svg xmlns="http://www.w3.org/2000/svg" {XLINK} width="{size}" height="58mm" '
        f'viewBox="{box}">{inner}</svg>'
    ).encode()


def drawn(name: str, inner: str, head: str = "", **more: str) -> None:
    """A case that is one drawing."""
    CASES[name] = lambda folder: (folder / ART).write_bytes(svg(inner, head, **more))


def instead(folder: Path, name: str, data: bytes) -> None:
    """Another kind of file for the burgee, its whole page or edge as the contour."""
    (folder / "art" / name).write_bytes(data)
    changed(folder / "job.toml", "art/burgee.svg", f"art/{name}")
    head, _, tail = (folder / "job.toml").read_text().rpartition('contour = "layer:outline"')
    (folder / "job.toml").write_text(f'{head}contour = "page"{tail}')


# XML and SVG

LAUGHS = "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True)
)
drawn(
    "entity bomb of a thousand million",
    f"{CUT}<text>&j;</text>",
    f'<!DOCTYPE svg [<!ENTITY a "ha">{LAUGHS}]>',
)
drawn(
    "entity of a megabyte a thousand times",
    f"{CUT}<text>{'&a;' * 1000}</text>",
    f'<!DOCTYPE svg [<!ENTITY a "{"x" * 1_000_000}">]>',
)
drawn(
    "entity from a file outside",
    f"{CUT}<text>&a;</text>",
    '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///PIPE">]>',
)
drawn("document type from an address", CUT, '<!DOCTYPE svg SYSTEM "http://127.0.0.1:PORT/a.dtd">')
drawn("style sheet from an address", f'<style>@import "http://127.0.0.1:PORT/a.css";</style>{CUT}')
drawn("image from an address", f'{CUT}<image xlink:href="http://127.0.0.1:PORT/a.png" width="9"/>')
drawn("image from a file outside", f'{CUT}<image xlink:href="PIPE" width="9" height="9"/>')
drawn("image from a folder above", f'{CUT}<image xlink:href="../../pipe.png" width="9"/>')
drawn("use of a file outside", f'{CUT}<use xlink:href="PIPE#a"/>')
drawn("a use of itself", f'{CUT}<g id="a"><use xlink:href="#a"/></g>')
drawn(
    "uses of each other",
    f'{CUT}<g id="a"><use xlink:href="#b"/></g><g id="b"><use xlink:href="#a"/></g>',
)
drawn(
    "uses that double thirty times",
    CUT
    + '<defs><rect id="u0" width="1" height="1"/>'
    + "".join(
        f'<g id="u{n}"><use xlink:href="#u{n - 1}"/><use xlink:href="#u{n - 1}"/></g>'
        for n in range(1, 31)
    )
    + '</defs><use xlink:href="#u30"/>',
)
drawn("ten thousand groups in each other", CUT + "<g>" * 10_000 + "</g>" * 10_000)
drawn(
    "two hundred groups in each other",
    CUT + "<g>" * 200 + '<rect width="9" height="9"/>' + "</g>" * 200,
)
drawn("a coordinate of a thousand million", CUT + '<rect x="1e9" width="1e9" height="1e9"/>')
drawn("a contour of a thousand million", '<path id="outline" d="M0 0H1e9V1e9H0Z"/>')
drawn("a coordinate beyond all numbers", '<path id="outline" d="M0 0H1e400V9H0Z"/>')
drawn("a coordinate that is no number", '<path id="outline" d="M0 0HNaNV9H0Z"/>')
drawn("a size that is no number", CUT, size="NaN")
drawn("a view box of nothing", CUT, box="0 0 0 0")
drawn("a view box of a thousand million", CUT, box="0 0 1e9 1e9")
drawn("a transform of no number", f'<g transform="scale(nan)">{CUT}</g>')
drawn(
    "a hundred thousand numbers of zigzag as contour",
    '<path id="outline" d="M0 0' + "".join(f"L{n % 80} {n % 50}" for n in range(50_000)) + 'Z"/>',
)
drawn("two million path commands of art", f'{CUT}<path d="M0 0{"l1 1" * 2_000_000}"/>')
drawn("a hundred thousand elements", CUT + '<rect width="1" height="1"/>' * 100_000)
drawn(
    "a dash of nothing along a long line",
    CUT + '<path d="M0 0H80" stroke="#000" stroke-dasharray="1e-9"/>',
)
drawn(
    "a blur of a thousand million",
    f'<filter id="f"><feGaussianBlur stdDeviation="1e9"/></filter>{CUT}'
    '<rect width="9" height="9" filter="url(#f)"/>',
)
drawn(
    "a pattern of a millionth",
    '<pattern id="p" width="1e-6" height="1e-6" patternUnits="userSpaceOnUse">'
    f'<rect width="1" height="1"/></pattern>{CUT}<rect width="80" height="50" fill="url(#p)"/>',
)
drawn(
    "a gradient that refers to itself",
    f'<linearGradient id="g" xlink:href="#g"/>{CUT}<rect width="80" height="50" fill="url(#g)"/>',
)
drawn(
    "a clip that clips itself",
    '<clipPath id="c" clip-path="url(#c)"><rect width="9" height="9"/></clipPath>'
    f'{CUT}<g clip-path="url(#c)"><rect width="9" height="9"/></g>',
)
drawn(
    "a selector of ten thousand parts",
    f"<style>{' '.join(['g'] * 10_000)} {{fill:red}}</style>{CUT}",
)


drawn(
    "a selector of ancestors' ancestors",
    f"<style>q {'g ' * 12} rect {{fill:red}}</style>{CUT}"
    + "<g>" * 150
    + '<rect width="9" height="9"/>' * 100
    + "</g>" * 150,
)
drawn(
    "siblings of siblings of 19 000",
    f"<style>q ~ rect ~ rect {{fill:red}}</style>{CUT}{'<rect/>' * 20_000}",
)
drawn(
    "a style of a megabyte for 19 000 elements",
    f'<style>rect {{font-family:"{"x" * 1_000_000}"}}</style>{CUT}{"<rect/>" * 19_000}',
)
for lines, said in ((40_000, "40 000 lines of art"), (19_000, "19 000 lines, which are planned")):
    drawn(
        said,
        f'{CUT}<g stroke="#036" stroke-width=".2">'
        + "".join(
            f'<path d="M{10 + n % 200 * 0.3:.1f} {8 + n // 200 * 0.2:.1f}h.2"/>'
            for n in range(lines)
        )
        + "</g>",
    )


@case("an image in a data address that says 50 000 by 50 000")
def _(folder: Path) -> None:
    data = base64.b64encode(_png(50_000, 50_000, zlib.compress(b""))).decode()
    image = f'<image xlink:href="data:image/png;base64,{data}" width="9" height="9"/>'
    (folder / ART).write_bytes(svg(CUT + image))


@case("a drawing in a drawing, fifty deep")
def _(folder: Path) -> None:
    inner = svg('<rect width="9" height="9"/>')
    for _ in range(12):
        data = base64.b64encode(inner).decode()
        inner = svg(
            f'{CUT}<image xlink:href="data:image/svg+xml;base64,{data}" width="9" height="9"/>'
        )
    (folder / ART).write_bytes(inner)


@case("a compressed drawing of a gigabyte")
def _(folder: Path) -> None:
    packer = zlib.compressobj(1, zlib.DEFLATED, 31)
    with (folder / ART).open("wb") as file:
        file.write(packer.compress(svg(CUT)[:-6]))
        for _ in range(256):
            file.write(packer.compress(b" " * 4_000_000))
        file.write(packer.compress(b"</svg>") + packer.flush())


# pixels


def _png(width: int, height: int, rows: bytes) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@case("a PNG that says 50 000 by 50 000 and holds nothing")
def _(folder: Path) -> None:
    instead(folder, "a.png", _png(50_000, 50_000, zlib.compress(b"")))


@case("a PNG of 50 000 by 50 000, the first thousand rows there")
def _(folder: Path) -> None:
    packer = zlib.compressobj(1)
    row = b"\0" + b"\x10\x20\x30\xff" * 50_000
    rows = b"".join(packer.compress(row * 50) for _ in range(20)) + packer.flush()
    instead(folder, "a.png", _png(50_000, 50_000, rows))


@case("a PNG of 50 000 by 4")
def _(folder: Path) -> None:
    instead(
        folder, "a.png", _png(50_000, 4, zlib.compress((b"\0" + b"\x10\x20\x30\xff" * 50_000) * 4))
    )


@case("a PNG with words of a gigabyte")
def _(folder: Path) -> None:
    data = bytearray(_png(2, 2, zlib.compress(b"\0" + b"\x10\x20\x30\xff" * 2)))
    packer = zlib.compressobj(1)
    words = b"".join(packer.compress(b"a" * 4_000_000) for _ in range(256)) + packer.flush()
    text = b"words\0\0" + words
    chunk = (
        struct.pack(">I", len(text))
        + b"zTXt"
        + text
        + struct.pack(">I", zlib.crc32(b"zTXt" + text))
    )
    data[33:33] = chunk
    instead(folder, "a.png", bytes(data))


def _large(kind: str, name: str, width: int, height: int, **more: object) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        held = io.BytesIO()
        Image.new("RGB", (width, height), (10, 90, 160)).save(held, kind, **more)
        instead(folder, name, held.getvalue())

    return make


CASES["a JPEG of 50 000 by 2 000"] = _large("JPEG", "a.jpg", 50_000, 2_000)
CASES["a TIFF of 50 000 by 2 000"] = _large("TIFF", "a.tif", 50_000, 2_000, compression="tiff_lzw")
CASES["a JPEG of 10 000 by 5 900, which is planned"] = _large(
    "JPEG", "a.jpg", 10_000, 5_900, dpi=(600, 600)
)
CASES["the same size of a hundredth of the pixels"] = _large(
    "JPEG", "a.jpg", 1_000, 590, dpi=(60, 60)
)
CASES["a WebP of 7 000 by 4 900"] = _large("WEBP", "a.webp", 7_000, 4_900)
CASES["a WebP of 16 000 by 6 000"] = _large("WEBP", "a.webp", 16_000, 6_000)


@case("a JPEG whose head says 65 000 by 65 000")
def _(folder: Path) -> None:
    held = io.BytesIO()
    Image.new("RGB", (64, 64)).save(held, "JPEG")
    data = bytearray(held.getvalue())
    at = data.index(b"\xff\xc0")
    data[at + 5 : at + 9] = struct.pack(">HH", 65_000, 65_000)
    instead(folder, "a.jpg", bytes(data))


@case("a TIFF whose directory points to itself")
def _(folder: Path) -> None:
    instead(folder, "a.tif", b"II*\0\x08\0\0\0" + b"\0\0" + struct.pack("<I", 8))


@case("a TIFF of a thousand pages")
def _(folder: Path) -> None:
    held = io.BytesIO()
    one = Image.new("RGB", (60, 60), (10, 90, 160))
    one.save(held, "TIFF", save_all=True, append_images=[one] * 999)
    instead(folder, "a.tif", held.getvalue())


# PDF


def _pdf(make: Callable[[pikepdf.Pdf, pikepdf.Page], None]) -> bytes:
    held = io.BytesIO()
    with pikepdf.new() as pdf:
        page = pdf.add_blank_page(page_size=(250, 165))
        page.obj.Contents = pdf.make_stream(b"0 0 1 rg 10 10 200 140 re f")
        make(pdf, page)
        pdf.save(held)
    return held.getvalue()


def _art_pdf(name: str, make: Callable[[pikepdf.Pdf, pikepdf.Page], None]) -> None:
    def on(folder: Path) -> None:
        instead(folder, "a.pdf", _pdf(make))

    CASES[name] = on


def _deflated(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
    packer = zlib.compressobj(1)
    body = b"".join(packer.compress(b" " * 4_000_000) for _ in range(256)) + packer.flush()
    stream = pdf.make_stream(b"")
    stream.write(zlib.compress(body, 1), filter=Array([Name.FlateDecode, Name.FlateDecode]))
    page.obj.Contents = stream


def _recursive(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
    form = pdf.make_stream(b"/F Do /F Do")
    form.update({"/Type": Name.XObject, "/Subtype": Name.Form, "/BBox": Array([0, 0, 99, 99])})
    form.Resources = Dictionary(XObject=Dictionary(F=form))
    page.obj.Resources = Dictionary(XObject=Dictionary(F=form))
    page.obj.Contents = pdf.make_stream(b"/F Do")


def _doubling(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
    inner = pdf.make_stream(b"0 0 9 9 re f")
    for _ in range(30):
        inner.update({"/Type": Name.XObject, "/Subtype": Name.Form, "/BBox": Array([0, 0, 99, 99])})
        outer = pdf.make_stream(b"/F Do /F Do")
        outer.Resources = Dictionary(XObject=Dictionary(F=inner))
        inner = outer
    inner.update({"/Type": Name.XObject, "/Subtype": Name.Form, "/BBox": Array([0, 0, 99, 99])})
    page.obj.Resources = Dictionary(XObject=Dictionary(F=inner))
    page.obj.Contents = pdf.make_stream(b"/F Do")


def _image(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
    packer = zlib.compressobj(1)
    rows = b"".join(packer.compress(b"\x33" * 3_000_000) for _ in range(100)) + packer.flush()
    image = pdf.make_stream(b"")
    image.write(rows, filter=Name.FlateDecode)
    image.update(
        {
            "/Type": Name.XObject,
            "/Subtype": Name.Image,
            "/Width": 50_000,
            "/Height": 50_000,
            "/ColorSpace": Name.DeviceRGB,
            "/BitsPerComponent": 8,
        }
    )
    page.obj.Resources = Dictionary(XObject=Dictionary(I=image))
    page.obj.Contents = pdf.make_stream(b"q 200 0 0 140 10 10 cm /I Do Q")


_art_pdf("a PDF deflated twice to a gigabyte", _deflated)
_art_pdf("a PDF form that paints itself", _recursive)
_art_pdf("a PDF of forms that double thirty times", _doubling)
_art_pdf("a PDF with an image of 50 000 by 50 000", _image)
_art_pdf(
    "a PDF page of a thousand million",
    lambda pdf, page: setattr(page.obj, "MediaBox", Array([0, 0, 10**9, 10**9])),
)
_art_pdf(
    "a PDF of two million operators",
    lambda pdf, page: setattr(
        page.obj, "Contents", pdf.make_stream(b"1 0 0 RG 0 0 m 9 9 l S\n" * 500_000)
    ),
)
_art_pdf(
    "a PDF of 140 000 operators, which is planned",
    lambda pdf, page: setattr(
        page.obj, "Contents", pdf.make_stream(b"1 0 0 RG 0 0 m 9 9 l S\n" * 35_000)
    ),
)
_art_pdf(
    "a PDF of one content stream a thousand times",
    lambda pdf, page: setattr(
        page.obj, "Contents", Array([pdf.make_stream(b" " * 50_000_000)] * 1000)
    ),
)
_art_pdf(
    "a PDF of images that never end",
    lambda pdf, page: setattr(page.obj, "Contents", pdf.make_stream(b"BI ID " * 1_000_000)),
)
_art_pdf(
    "a PDF of brackets in each other",
    lambda pdf, page: setattr(page.obj, "Contents", pdf.make_stream(b"[" * 200_000)),
)
_art_pdf(
    "a PDF that saves its state a million times",
    lambda pdf, page: setattr(page.obj, "Contents", pdf.make_stream(b"q " * 1_000_000)),
)


@case("a PDF whose pages are their own parents")
def _(folder: Path) -> None:
    data = (
        b"%PDF-1.6\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n"
        b"2 0 obj<</Type/Pages/Kids[2 0 R 2 0 R]/Count 9>>endobj\n"
        b"trailer<</Root 1 0 R/Size 3>>\n%%EOF"
    )
    instead(folder, "a.pdf", data)


@case("a PDF that says it has a thousand million pages")
def _(folder: Path) -> None:
    data = (
        b"%PDF-1.6\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n"
        b"2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1000000000>>endobj\n"
        b"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 250 165]>>endobj\n"
        b"trailer<</Root 1 0 R/Size 4>>\n%%EOF"
    )
    instead(folder, "a.pdf", data)


# job, paths, tables


def _job(name: str, old: str, new: str) -> None:
    CASES[name] = lambda folder: changed(folder / "job.toml", old, new)


_job("artwork by a path outside", "art/burgee.svg", "../../../etc/passwd")
_job("artwork by an absolute path", "art/burgee.svg", "/etc/passwd")
_job("artwork that is a device", "art/burgee.svg", "/dev/zero")


@case("artwork that is a link out of the folder")
def _(folder: Path) -> None:
    (folder / ART).unlink()
    (folder / ART).symlink_to(folder.parent / "pipe.png")


@case("artwork that is a named pipe")
def _(folder: Path) -> None:
    (folder / ART).unlink()
    os.mkfifo(folder / ART)


@case("a job of fifty megabytes")
def _(folder: Path) -> None:
    with (folder / "job.toml").open("a") as file:
        file.write("# " + "x" * 50_000_000 + "\n")


@case("a job of brackets in each other")
def _(folder: Path) -> None:
    with (folder / "job.toml").open("a") as file:
        file.write("\nrows = " + "[" * 100_000)


@case("a job of zeros")
def _(folder: Path) -> None:
    (folder / "job.toml").write_bytes(b"\0" * 1_000_000)


@case("a job of a hundred thousand decals")
def _(folder: Path) -> None:
    text = (folder / "job.toml").read_text()
    at = text.index("[[decal]]")
    end = text.find("[[decal]]", at + 1)
    one = text[at : end if end > 0 else len(text)]
    (folder / "job.toml").write_text(text + "\n" + one * 100_000)


@case("a quantity of a thousand million")
def _(folder: Path) -> None:
    text = (folder / "job.toml").read_text()
    at = text.index("quantity")
    (folder / "job.toml").write_text(
        text[:at] + "quantity = 1000000000" + text[text.index("\n", at) :]
    )


def run(make: Callable[[Path], object]) -> dict:
    """One case in a process of its own."""
    with tempfile.TemporaryDirectory() as held, socket.socket() as ear:
        ear.bind(("127.0.0.1", 0))
        ear.listen()
        ear.setblocking(False)
        folder = Path(held) / "job"
        folder.mkdir()
        write_small_job(folder)
        made = multiprocessing.Process(target=make, args=(folder,))
        made.start()  # apart: a child's peak is told as no less than its parent's was
        made.join()
        assert made.exitcode == 0, "the case could be made"
        os.mkfifo(Path(held) / "pipe.png")
        art = folder / ART
        if art.is_file() and not art.is_symlink() and art.stat().st_size < 10_000_000:
            data = art.read_bytes().replace(b"PIPE", os.fsencode(Path(held) / "pipe.png"))
            art.write_bytes(data.replace(b"PORT", str(ear.getsockname()[1]).encode()))
        words = [sys.executable, "-m", "nestplan", "plan", str(folder / "job.toml")]
        words += ["--out", str(Path(held) / "out"), "--steps", str(STEPS)]
        start = time.monotonic()
        with (Path(held) / "words").open("wb") as told:
            child = subprocess.Popen(words, stdout=told, stderr=told)
            code = None
            while time.monotonic() - start < HANGS_S:
                pid, status, used = os.wait4(child.pid, os.WNOHANG)
                if pid:
                    code = os.waitstatus_to_exitcode(status)
                    child.returncode = code
                    break
                time.sleep(0.02)
            else:
                child.kill()
                _, _, used = os.wait4(child.pid, 0)
                child.returncode = -9
        said = (Path(held) / "words").read_text(errors="replace")
        try:
            ear.accept()
            called = True
        except BlockingIOError:
            called = False
        shutil.rmtree(Path(held) / "out", ignore_errors=True)
    busy = used.ru_utime + used.ru_stime
    peak = used.ru_maxrss / 1024
    broken = "Traceback" in said or code not in (0, 1, 2, 3)
    good = not broken and not called and busy <= SECONDS and peak <= MIB
    first = said.strip().splitlines()[:1]
    return {
        "code": code,
        "wall_s": round(time.monotonic() - start, 2),
        "cpu_s": round(busy, 2),
        "peak_mib": round(peak),
        "called_out": called,
        "broken": broken,
        "good": good,
        "said": said.strip()[-300:] if broken else "".join(first)[:120],
    }


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", type=Path)
    parser.add_argument("--only", default="", help="cases whose name has these words")
    parser.add_argument("--from", dest="first", default="", help="begin at the case of this name")
    asked = parser.parse_args()
    rows = {}
    names = list(CASES)
    for name in names[names.index(asked.first) if asked.first else 0 :]:
        if asked.only in name:
            make = CASES[name]
            rows[name] = row = run(make)
            state = "ok " if row["good"] else "BAD"
            figures = f"{row['cpu_s']:6.2f} s cpu {row['wall_s']:6.2f} s {row['peak_mib']:5d} MiB"
            print(f"{state} {figures} exit {row['code']}  {name}: {row['said']}", flush=True)
    good = sum(row["good"] for row in rows.values())
    print(f"{good} of {len(rows)} within {SECONDS:g} s of processor time and {MIB} MiB")
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1, ensure_ascii=False))


if __name__ == "__main__":
    main()
