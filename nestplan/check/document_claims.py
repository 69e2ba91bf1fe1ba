"""Print and proof as documents: open to everybody, at rest, complete, with their letters in them.

source: ISO 32000-1 7.6 (encryption), 12.6 (actions), 9.9 (embedded fonts).
"""

import io
from collections.abc import Iterator, Mapping

import pikepdf
from pikepdf import Dictionary

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.folder import PROOF
from nestplan.check.pdf_content import BROKEN
from nestplan.check.pdf_pages import PdfFile
from nestplan.check.said import Said
from nestplan.figures import count

ACTIVE = ("/OpenAction", "/AA", "/AcroForm", "/JavaScript", "/EmbeddedFiles", "/URI")
FONT_FILES = {"/FontFile", "/FontFile2", "/FontFile3"}
Wrong = tuple[Kind, str, str, str]  # kind, where, found, meant


def document_claims(said: Said, documents: Mapping[str, PdfFile]) -> list[Claim]:
    """Nothing is locked, nothing acts, no letter is left to the reader's own fonts."""
    against = []
    for name, file in documents.items():
        try:
            with pikepdf.open(io.BytesIO(file.data)) as pdf:
                wrong = list(_rests(name, pdf))
                if name == PROOF:
                    wrong += [*_fonts(name, pdf), *_pages(said, name, pdf)]
        except BROKEN as error:
            wrong = [(Kind.FILE_BROKEN, name, str(error), "a sound PDF")]
        against += [Finding(kind=k, where=w, found=f, meant=m) for k, w, f, m in wrong]
    says = "no document is locked or acts by itself, and the proof brings its letters along"
    return [Claim(says=says, against=tuple(against))]


def _rests(name: str, pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    if pdf.is_encrypted:
        yield Kind.FILE_LOCKED, name, "encryption", "none"
    for key in ACTIVE:
        if key in pdf.Root or key in pdf.Root.get("/Names", Dictionary()):
            yield Kind.FILE_LOCKED, name, key.removeprefix("/"), "nothing that acts"


def _fonts(name: str, pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    seen = set()
    for thing in pdf.objects:
        if not isinstance(thing, Dictionary) or thing.get("/Type") != "/FontDescriptor":
            continue
        font = str(thing.get("/FontName", ""))[1:60]
        if not FONT_FILES & set(thing.keys()) and font not in seen:
            seen.add(font)
            yield Kind.FILE_LOCKED, name, f"font {font} is not in it", "embedded fonts only"


def _pages(said: Said, name: str, pdf: pikepdf.Pdf) -> Iterator[Wrong]:
    """A page for the run and one for each frame at the least."""
    least = len(said.frames) + 1
    if len(pdf.pages) < least:
        meant = f"{count(least, 'page')} or more: the run's and one a frame"
        yield Kind.FRAME_COUNT, f"{name}, frame pages", count(len(pdf.pages), "page"), meant
