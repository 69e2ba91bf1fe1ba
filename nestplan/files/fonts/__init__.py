"""The two typefaces of every printed word, shipped with the package.

A PDF that names a font it does not carry is set in whatever the reader's machine
has. These two travel inside the file, cut down to the letters used, and hold
accents, Greek, Cyrillic, arrows and the minus sign.
"""

from pathlib import Path
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

BODY = "Body"
BODY_BOLD = "BodyBold"
FILES = {BODY: "DejaVuSans.ttf", BODY_BOLD: "DejaVuSans-Bold.ttf"}


def register_fonts() -> None:
    """Make BODY and BODY_BOLD known to reportlab; asking again changes nothing.

    Open a canvas with `initialFontName=BODY`, or the page lists a font that is not embedded.
    """
    known = set(pdfmetrics.getRegisteredFontNames())
    for name, file in FILES.items():
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, str(Path(__file__).parent / file)))


def has_sign(sign: str) -> bool:
    """Whether both faces, which must be registered, have a glyph for it."""
    fonts: list[Any] = [pdfmetrics.getFont(name) for name in FILES]
    return all(ord(sign) in font.face.charToGlyph for font in fonts)
