"""Whether a font travels with the file (ISO 32000-1, 9.9)."""

import pikepdf
from pikepdf import Name

_PROGRAMS = ("/FontFile", "/FontFile2", "/FontFile3")


def is_embedded(font: pikepdf.Object) -> bool:
    """Whether text in this font looks everywhere as it was meant."""
    if font.get("/Subtype") == Name.Type3:  # drawn by the file itself
        return True
    parts = list(font.get("/DescendantFonts", [font]))
    return all(any(key in part.get("/FontDescriptor", {}) for key in _PROGRAMS) for part in parts)
