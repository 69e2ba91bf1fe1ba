"""A page read back by a library that did not write it."""

import ctypes
import re

import numpy as np
import pypdfium2

DPMM = 8  # pixels a mm


def words_of(pdf):
    """The words of each page, line breaks made plain."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]


def picture_of(pdf, page=0):
    """(rows, columns, 3) pixels."""
    with pypdfium2.PdfDocument(pdf) as document:
        return np.asarray(document[page].render(scale=DPMM * 25.4 / 72).to_pil().convert("RGB"))


def span_mm(pixels, colour, near=6):
    """Width and height of what is of this colour, mm."""
    there = (np.abs(pixels.astype(int) - colour) <= near).all(axis=2)
    rows, columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    return (np.ptp(columns) + 1) / DPMM, (np.ptp(rows) + 1) / DPMM


def scale_of(words):
    """The denominator of the heading of the pictures."""
    return float(re.search(r"Decals?, 1:([0-9.]+)", words)[1])


def right_ends(pdf, words):
    """Right ends, mm, of all places where the words stand."""
    with pypdfium2.PdfDocument(pdf) as document:
        page = document[0].get_textpage()
        found, ends = page.search(words, match_whole_word=True), []
        while (at := found.get_next()) is not None:
            start, many = at
            boxes = [page.get_charbox(k) for k in range(start, start + many)]
            ends.append(max(box[2] for box in boxes) * 25.4 / 72)
        return ends


def type_sizes(pdf):
    """All sizes of type on the first page, points."""
    raw = pypdfium2.raw
    with pypdfium2.PdfDocument(pdf) as document:
        sizes = set()
        for thing in document[0].get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=1):
            size = ctypes.c_float()
            assert raw.FPDFTextObj_GetFontSize(thing.raw, ctypes.byref(size))
            sizes.add(round(size.value, 2))
        return sizes
