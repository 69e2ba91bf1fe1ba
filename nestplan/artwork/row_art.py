"""A drawing whose text differs copy by copy: what all copies share, and what each row says.

A text with `data-row="COLUMN"` is taken out of the drawing; the rest is artwork like any
other, with its contour. Each row's text is then set by itself, as text in an embedded
face, to be laid on top. `data-row-font="PATH"` names the file of its face.
"""

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
import shapely
import svg2pdf_py
from numpy.typing import NDArray

from nestplan.artwork.art import Box, upright
from nestplan.artwork.decal import Picture, Row
from nestplan.artwork.row_font import Face, face_of, fonts_for
from nestplan.artwork.row_table import Table, listed
from nestplan.artwork.svg.drawing import Drawing, drawing_of
from nestplan.artwork.svg.expand import NOT_DRAWN
from nestplan.artwork.svg.paint import painted_region
from nestplan.artwork.svg.parse import Element, is_svg, name_of, parse_svg, place
from nestplan.artwork.svg.picture import picture_pdf, set_style
from nestplan.artwork.svg.style import inline_sheets, own, share
from nestplan.artwork.vector import VectorArt
from nestplan.faults import Fault, Note, raise_all
from nestplan.figures import fixed
from nestplan.geometry.outline import Outline

ROW, ROW_FONT = "data-row", "data-row-font"
KEPT = {"defs", "linearGradient", "radialGradient", "pattern", "clipPath"}
PER_MM = 6.0  # pixels at which the ink of a row is looked at
SIDE_MOST_PX = 900
LEAVES_MM2 = 0.05  # ink outside the contour that is no rounding
WIDER = 1.15  # than the sample in the art: worth a look


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Field:
    """A text that a row fills in. path: where it stands, child by child from the root."""

    path: tuple[int, ...]
    column: str
    where: str
    face: Face


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowArt:
    """shared: the drawing without row text. root: all of it, sheets written in."""

    shared: VectorArt
    root: Element
    fields: tuple[_Field, ...]
    over: tuple[Element, ...]  # what is drawn after the first row text
    notes: tuple[Note, ...]

    @property
    def columns(self) -> list[tuple[str, str]]:
        """Columns that the art asks for, and where."""
        return [(field.column, field.where) for field in self.fields]


def open_row_art(data: bytes, source: str, folder: Path) -> RowArt:
    """Read SVG artwork with row text. raises: Fault or Faults."""
    root = parse_svg(data, source)
    notes = inline_sheets(root, source)
    found = [e for e in root.iter() if is_svg(e) and e.get(ROW) is not None]
    if not found:
        raise Fault(
            what="the job gives this decal rows, but no text of the art takes them",
            where=source,
            do=f'give a live text of the art {ROW}="COLUMN", a column of the file',
        )
    fields, faults = [], []
    for element in found:
        try:
            field, told = _field(element, source, folder)
            fields.append(field)
            notes += told
        except Fault as fault:
            faults.append(fault)
    raise_all(faults)
    whole = deepcopy(root)
    texts = [_text_of(element) for element in found]
    order = [element for element in root.iter() if is_svg(element)]
    over = order[order.index(texts[0]) :]
    for text in dict.fromkeys(texts):
        assert text is not None, "a field is text"
        parent = text.getparent()
        assert parent is not None, "the root is <svg>"
        parent.remove(text)
    shared = VectorArt(drawing=drawing_of(root, source))
    return RowArt(
        shared=shared, root=whole, fields=tuple(fields), over=tuple(over), notes=tuple(notes)
    )


def set_rows(
    art: RowArt, table: Table, contour: Outline, box: Box, centre: tuple[float, float], scale: float
) -> tuple[tuple[Row, ...], list[Note]]:
    """A picture a row, and what of it does not fit.

    box: what the pictures show, page mm. centre: the decal's own origin there. scale: mm a px.
    raises: Fault, Faults.
    """
    values = table.values(art.columns)
    raise_all(list(_missing_signs(art, table, values)))
    everything = "".join(value for row in values for _, value in row) + _sample_text(art)
    faces = {(field.face.path, field.face.bold): field.face for field in art.fields}
    left, bottom, right, top = box
    box_px = (left / scale, -top / scale, (right - left) / scale, (top - bottom) / scale)
    in_decal = (left - centre[0], bottom - centre[1], right - centre[0], top - centre[1])

    def picture(row: Sequence[tuple[str, str]] | None, fonts: svg2pdf_py.FontDatabase) -> Picture:
        page = _filled_in(art, dict(row) if row is not None else None)
        pdf = picture_pdf(art.shared.drawing, page, box_px, scale, fonts)
        return Picture(pdf=pdf, box_mm=in_decal)

    with fonts_for(faces.values(), everything) as fonts:
        rows = tuple(Row(values=row, picture=picture(row, fonts)) for row in values)
        sample = picture(None, fonts)
    notes = [*art.notes, *table.notes, *table.twice(values)]
    notes += _fit_notes(art, table, rows, sample, contour)
    _refuse_covered(art, rows, centre, scale)
    return rows, notes


def _field(element: Element, source: str, folder: Path) -> tuple[_Field, list[Note]]:
    """One text that rows fill in. raises: Fault."""
    where, column = place(source, element), (element.get(ROW) or "").strip()
    text = _text_of(element)
    if name_of(element) not in ("text", "tspan") or text is None:
        raise Fault(
            what=f"<{name_of(element)}> has {ROW}, and only text can say what a row says",
            where=where,
            do=f"give a <text> or <tspan> {ROW}, or delete it here",
        )
    if not column:
        raise Fault(what=f"{ROW} is empty", where=where, do="name a column of the file of rows")
    others = [e for e in text.iter() if is_svg(e) and e is not text and e is not element]
    words = "".join(text.itertext()).strip()
    own_words = "".join(element.itertext()).strip()
    if others or len(element) or words != own_words:
        raise Fault(
            what="this text has more than the words that the row replaces",
            where=where,
            do=f"make the text with {ROW} a text of its own, in one line; fixed words as outlines",
        )
    outer = list(element.iterancestors())
    if any(name_of(each) in NOT_DRAWN for each in outer):
        raise Fault(
            what="this text stands in something that is only drawn where it is referred to",
            where=where,
            do="move it out of defs, symbols, clip paths and patterns",
        )
    for each in (element, *outer):
        given = own(each)
        see_through = each is not element and share(given.get("opacity", "1")) < 1
        effect = next((k for k in ("mask", "filter") if given.get(k, "none") != "none"), None)
        blend = given.get("mix-blend-mode", "normal") != "normal"
        if see_through or effect or blend or given.get("display") == "none":
            raise Fault(
                what="row text is laid on top of the art, and here it stands in a group with "
                f"{effect or ('an opacity' if see_through else 'a blend or hidden')}",
                where=place(source, each),
                do="move the text out of that group, to the top of the drawing",
            )
    family = next((f for e in (element, *outer) if (f := own(e).get("font-family"))), None)
    weight = next((w for e in (element, *outer) if (w := own(e).get("font-weight"))), "400")
    named = element.get(ROW_FONT) or text.get(ROW_FONT)
    bold = weight in ("bold", "bolder") or (weight.isdigit() and int(weight) >= 600)
    face = face_of(folder, named, bold, f"{where}, {ROW_FONT}" if named else where)
    notes = []
    asked = (family or face.family).split(",")[0].strip(" '\"")
    if named is None and asked != face.family:
        told = f"set in {face.family}, not in {asked}: name the file of that font in {ROW_FONT}"
        notes.append(Note(level="look", where=where, text=f"the text of the rows is {told}"))
    return _Field(path=_path_to(element), column=column, where=where, face=face), notes


def _text_of(element: Element) -> Element | None:
    """The whole text that an element is, or is a part of."""
    for each in (element, *element.iterancestors()):
        if name_of(each) == "text":
            return each
    return None


def _path_to(element: Element) -> tuple[int, ...]:
    steps = []
    while (parent := element.getparent()) is not None:
        steps.append(parent.index(element))
        element = parent
    return tuple(reversed(steps))


def _filled_in(art: RowArt, values: dict[str, str] | None) -> Element:
    """The drawing with nothing but its row text, filled in; None: as the art has it."""
    root = deepcopy(art.root)
    kept: set[Element] = {root}
    for field in art.fields:
        element = root
        for step in field.path:
            element = element[step]
        if values is not None:
            element.text = values[field.column]
        set_style(element, "font-family", f"'{field.face.family}'")
        set_style(element, "font-weight", "700" if field.face.bold else "400")
        text = _text_of(element)
        assert text is not None, "a field is text"
        text.set("{http://www.w3.org/XML/1998/namespace}space", "default")
        kept |= {element, text, *element.iterancestors()}
    for element in list(root.iter()):
        if element in kept or not is_svg(element) or name_of(element) in KEPT:
            continue
        parent = element.getparent()
        if parent is not None and (parent in kept or parent is root):
            parent.remove(element)
    return root


def _sample_text(art: RowArt) -> str:
    said = []
    for field in art.fields:
        element = art.root
        for step in field.path:
            element = element[step]
        said.append("".join(element.itertext()))
    return "".join(said)


def _missing_signs(
    art: RowArt, table: Table, values: Sequence[Sequence[tuple[str, str]]]
) -> Iterator[Fault]:
    """Signs that a face has no glyph for."""
    for field in art.fields:
        lines: dict[str, list[int]] = {}
        for line, row in zip(table.lines, values, strict=True):
            for sign in field.face.lacks(dict(row)[field.column]):
                lines.setdefault(sign, []).append(line)
        for sign, at in lines.items():
            yield Fault(
                what=f"{field.face.family} has no glyph for {sign!r} (U+{ord(sign):04X})",
                where=f"{table.source}, {listed(at)}, column {field.column}",
                do=f"write it otherwise, or name a font that has it: {ROW_FONT} on the text",
            )


def _ink(picture: Picture) -> NDArray[np.float64]:
    """Middles (n, 2) of the pixels that a row's text covers, decal mm."""
    left, bottom, right, top = picture.box_mm
    per_mm = min(PER_MM, SIDE_MOST_PX / max(right - left, top - bottom))
    document = pypdfium2.PdfDocument(picture.pdf)
    try:
        bitmap = document[0].render(
            scale=per_mm * 25.4 / 72, fill_color=(255, 255, 255, 0), rev_byteorder=True
        )
        alpha = bitmap.to_numpy()[..., -1]
    finally:
        document.close()
    rows, columns = np.nonzero(alpha > 127)
    step_x, step_y = (right - left) / alpha.shape[1], (top - bottom) / alpha.shape[0]
    return np.column_stack([left + (columns + 0.5) * step_x, top - (rows + 0.5) * step_y])


def _fit_notes(
    art: RowArt, table: Table, rows: Sequence[Row], sample: Picture, contour: Outline
) -> list[Note]:
    """Rows whose text leaves the contour, is much wider than the sample, or paints nothing."""
    region = contour.region
    shapely.prepare(region)
    given = _ink(sample)
    wide = float(np.ptp(given, axis=0).max()) if len(given) else 0.0
    leaves, wider, bare = [], [], []
    for line, row in zip(table.lines, rows, strict=True):
        ink = _ink(row.picture)
        if not len(ink):
            bare.append(line)
            continue
        outside = int((~shapely.contains_xy(region, ink)).sum())
        if outside / PER_MM**2 > LEAVES_MM2:
            leaves.append(line)
        size = float(np.ptp(ink, axis=0).max())
        if wide and size > WIDER * wide:
            wider.append((size, line, row.words))
    notes = []
    if bare:
        text = f"the text paints nothing within the art's page: {listed(bare)}"
        notes.append(Note(level="stop", where=table.source, text=text))
    if leaves:
        text = f"the text crosses the cut line: {listed(leaves)}; it would be cut into"
        notes.append(Note(level="stop", where=table.source, text=text))
    if wider:
        size, line, words = max(wider)
        text = (
            f"{listed([each[1] for each in wider])} wider than the sample in the art by more than "
            f"{fixed(100 * (WIDER - 1), 0)} %; the widest, {words} in line {line}, takes "
            f"{fixed(size)} mm where the sample takes {fixed(wide)} mm"
        )
        notes.append(Note(level="look", where=table.source, text=text))
    return notes


def _refuse_covered(
    art: RowArt, rows: Sequence[Row], centre: tuple[float, float], scale: float
) -> None:
    """What the art draws over its row text would vanish beneath it. raises: Fault."""
    over = set(art.over)
    drawing: Drawing = art.shared.drawing
    later = [shape for shape in drawing.shapes if shape.element in over]
    if not later or not rows:
        return
    ink = _ink(rows[0].picture) + np.array(centre)
    for shape in later:
        painted = painted_region([shape], upright(scale), 0.05)
        if len(ink) and shapely.contains_xy(painted, ink).any():
            raise Fault(
                what="the art draws this over the text of the rows, which is printed on top",
                where=shape.where,
                do="move the text with data-row to the end of the drawing",
            )
