"""The typeface of row text: the one that is shipped, or a font file of the job's folder."""

import io
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import svg2pdf_py
from fontTools.ttLib import TTFont, TTLibError

from nestplan.artwork.find import find_file, read_file
from nestplan.faults import Fault

# the faces that proofs are set in are data of the package; no code is asked
SHIPPED = Path(__file__).parents[1] / "files" / "fonts"
PLAIN, BOLD = SHIPPED / "DejaVuSans.ttf", SHIPPED / "DejaVuSans-Bold.ttf"
KINDS = (".ttf", ".otf")
BROKEN = (TTLibError, ValueError, KeyError, IndexError, AssertionError, OSError, AttributeError)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """A font file. family: the name that it goes by. signs: code points it has glyphs for."""

    path: Path
    data: bytes
    family: str
    bold: bool
    signs: frozenset[int]

    def lacks(self, text: str) -> list[str]:
        """Signs of a text that would be printed as empty boxes."""
        return sorted({sign for sign in text if ord(sign) not in self.signs})


def face_of(folder: Path, named: str | None, bold: bool, where: str) -> Face:
    """The face of a text. named: path of its font file in the job's folder. raises: Fault."""
    if named is None:
        path = BOLD if bold else PLAIN
    else:
        path = find_file(folder, named, KINDS, where=where)
    data = path.read_bytes() if named is None else read_file(path, named)
    try:
        font = TTFont(io.BytesIO(data), lazy=True)
        family = font["name"].getBestFamilyName()
        signs = frozenset(font.getBestCmap() or ())
        heavy = font["OS/2"].usWeightClass >= 600
        assert family, "a font without a name"
        font["glyf" if "glyf" in font else "CFF "]  # only outlines are printed
    except BROKEN as error:
        raise Fault(
            what=f"the font cannot be read: {error}",
            where=where,
            do="name a .ttf or .otf file with outlines",
        ) from None
    return Face(path=path, data=data, family=str(family), bold=bool(heavy), signs=signs)


@contextmanager
def fonts_for(faces: Iterable[Face], text: str) -> Iterator[svg2pdf_py.FontDatabase]:
    """The faces as the converter takes them, cut down to the signs of a text.

    What is left out here is not carried once a row. The converter reads the files when it first
    sets a text, so they are there as long as the context is open. raises: Fault.
    """
    database = svg2pdf_py.FontDatabase()
    with tempfile.TemporaryDirectory() as folder:
        for number, face in enumerate(faces):
            path = Path(folder) / f"{number}{face.path.suffix}"
            path.write_bytes(_cut_down(face, text))
            database.load_font_file(str(path))
        yield database


NAMES = [1, 2, 4, 6, 16, 17]  # what a face is called by; its licence's text would go with each row


def _cut_down(face: Face, text: str) -> bytes:
    """The face with the glyphs of a text, no hints: a printer has dots enough."""
    from fontTools import subset  # takes long to load, and few jobs have rows

    options = subset.Options(
        hinting=False, layout_features=["*"], name_IDs=NAMES, notdef_outline=True
    )
    options.drop_tables += ["FFTM"]  # an editor's own, with times in it
    held = io.BytesIO()
    try:
        font = TTFont(io.BytesIO(face.data), recalcTimestamp=False)
        cutter = subset.Subsetter(options)
        cutter.populate(text=f"{text} ")
        cutter.subset(font)
        font.save(held)
    except BROKEN as error:
        raise Fault(
            what=f"the font cannot be cut down to the text: {error}",
            where=face.path.name,
            do="take another font file",
        ) from None
    return held.getvalue()
