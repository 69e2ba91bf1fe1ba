"""What every print PDF must be, whatever its art: the rules that are ours to keep.

source: ISO 32000-1 14.11 (boxes, output intents), 8.11 (layers); ISO 15930-7 as far as known.
Whether the art keeps to PDF/X-4 is told by the plan's notes; this asks what a stranger can see.
"""

import io
from collections.abc import Iterator

import pikepdf
from pikepdf import Dictionary, Name

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.folder import PRINT
from nestplan.check.pdf_content import BROKEN
from nestplan.check.said import Said

UNITS_MOST = 14_400.5
ACTIVE = ("/OpenAction", "/AA", "/AcroForm", "/EmbeddedFiles", "/JavaScript")
Wrong = tuple[str, str, str]  # where in the file, found, meant


def format_claims(said: Said, data: bytes) -> list[Claim]:
    """Boxes, layers, fonts, profile, title and dates of the print. data: a PDF that was read."""
    try:
        with pikepdf.open(io.BytesIO(data)) as pdf:
            wrong = [*_document(said, pdf), *_about(said, pdf), *_pages(pdf)]
    except BROKEN as error:
        wrong = [("", str(error) or type(error).__name__, "a sound document")]
    against = tuple(
        Finding(
            kind=Kind.FORMAT_WRONG,
            where=f"{PRINT}, {where}" if where else PRINT,
            found=found,
            meant=meant,
        )
        for where, found, meant in wrong
    )
    says = "boxes, layers, fonts, output profile, title and dates of the print are as they should"
    return [Claim(says=says, against=against)]


def _document(said: Said, pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    if pdf.is_encrypted:
        yield "", "encryption", "none"
    if "/ID" not in pdf.trailer:
        yield "trailer", "no ID", "an ID"
    for key in ACTIVE:
        if key in pdf.Root or key in pdf.Root.get("/Names", Dictionary()):
            yield "catalogue", key.removeprefix("/"), "nothing that acts"
    intents = [each for each in pdf.Root.get("/OutputIntents", ()) if each.get("/S") == "/GTS_PDFX"]
    if len(intents) != 1:
        yield "output intent", f"{len(intents)} for print", "one"
    else:
        stream = intents[0].get("/DestOutputProfile")
        known = isinstance(stream, pikepdf.Stream)
        head = stream.read_bytes()[:128] if isinstance(stream, pikepdf.Stream) else b""
        inks = int(stream.get("/N", 0)) if isinstance(stream, pikepdf.Stream) else 0
        if not known or head[36:40] != b"acsp" or head[12:16] != b"prtr":
            yield "output intent", "no output profile", "an ICC profile of class prtr"
        elif {b"CMYK": 4, b"RGB ": 3, b"GRAY": 1}.get(head[16:20]) != inks:
            yield "output intent", f"N = {inks}", "as many as the profile's inks"
    listed = {each.objgen for each in pdf.Root.get("/OCProperties", Dictionary()).get("/OCGs", ())}
    for thing in pdf.objects:
        is_layer = isinstance(thing, Dictionary) and thing.get("/Type") == "/OCG"
        if is_layer and thing.objgen not in listed:
            yield "layers", f"{str(thing.get('/Name', ''))!r} is not listed", "all listed"


def _about(said: Said, pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    """Information and metadata agree; dates are the job's, or there are none."""
    info = pdf.docinfo
    if not str(info.get("/Title", "")).startswith(said.job[:20]):
        yield "title", str(info.get("/Title", "nothing"))[:60], said.job
    trapped = info.get("/Trapped")
    if trapped not in (Name("/False"), Name("/True")):
        yield "trapped", str(trapped), "True or False"
    with pdf.open_metadata(set_pikepdf_as_editor=False) as xmp:
        pairs = [
            ("title", str(info.get("/Title", "")), xmp.get("dc:title", "")),
            ("producer", str(info.get("/Producer", "")), xmp.get("pdf:Producer", "")),
            ("trapped", str(trapped).removeprefix("/"), xmp.get("pdf:Trapped", "")),
        ]
        for name, one, other in pairs:
            if one != other:
                yield name, f"{str(other)[:60]!r} in the metadata", f"{one[:60]!r} as in the other"
        day = said.inputs.job.date
        plain = f"D:{day.replace('-', '')}" if day else ""
        for key in ("/CreationDate", "/ModDate"):
            date = str(info.get(key, ""))
            if not date.startswith(plain) or bool(date) != bool(day):
                yield key.removeprefix("/"), date or "none", day or "none: the job gives none"
        for key in ("xmp:CreateDate", "xmp:ModifyDate", "xmp:MetadataDate"):
            date = str(xmp.get(key, ""))
            if not date.startswith(day or "") or bool(date) != bool(day):
                yield key, date or "none", day or "none: the job gives none"


def _pages(pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    for number, page in enumerate(pdf.pages, 1):
        where = f"page {number}"
        media = _box(page.obj.get("/MediaBox"))
        if "/TrimBox" not in page.obj or "/ArtBox" in page.obj:
            yield where, "no trim box, or an art box too", "a trim box alone"
            continue
        trim = _box(page.obj.TrimBox)
        bleed = _box(page.obj.get("/BleedBox", page.obj.TrimBox))
        if not (_inside(trim, bleed) and _inside(bleed, media)):
            yield where, "its boxes do not lie in each other", "trim in bleed in media box"
        if max(media[2] - media[0], media[3] - media[1]) > UNITS_MOST:
            yield where, f"{media[3] - media[1]:.0f} units long", "14 400 at most"
        fonts = page.obj.get("/Resources", Dictionary()).get("/Font", Dictionary())
        for _, font in sorted(fonts.items()):
            inner = font.get("/DescendantFonts", [font])[0]
            about = inner.get("/FontDescriptor", Dictionary())
            if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(about.keys()):
                yield where, f"font {str(font.get('/BaseFont', ''))[1:40]}", "embedded fonts only"


def _box(values: pikepdf.Object | None) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = (float(value) for value in values or ())
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _inside(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    near = 0.001
    low = all(a >= b - near for a, b in zip(one[:2], other[:2], strict=True))
    return low and all(a <= b + near for a, b in zip(one[2:], other[2:], strict=True))
