"""A picture of each decal to scale, in columns: all at one scale, or each at its own."""

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan import figures
from nestplan.artwork import Decal
from nestplan.files.proof_art import art_name, backing_name, line_name
from nestplan.files.proof_block import HEAD_MM, heading
from nestplan.files.proof_dimension import scale_bar
from nestplan.files.proof_flow import column_mm
from nestplan.files.proof_lengths import Lengths
from nestplan.files.proof_scale import ROUND, View, round_scale
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    BODY_PT,
    GREY,
    GUTTER_MM,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_text import fitted
from nestplan.geometry.outline import Outline

COLUMN_LEAST_MM = 25.0  # words under a picture are then seldom cut
SEEN_MM = 6.0  # a picture whose longer side is shorter tells nothing
OWN_LEAST_MM = 9.0  # height of a cell where each has its own scale
ROW_GAP_MM = 3.5
NAME_MM, LINE_MM = 3.6, 2.9
CUTS = {"kiss": "kiss cut", "through": "cut through"}
EDGE = Stroke(colour=GREY, width_pt=0.35)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pictures:
    """Pictures laid out. denominators: of each decal; one_scale: all the same.

    rows_mm: height of the pictures of each row.
    """

    decals: tuple[Decal, ...]
    say: Lengths
    columns: int
    denominators: tuple[float, ...]
    rows_mm: tuple[float, ...]

    @property
    def one_scale(self) -> bool:
        """Whether sizes can be compared on the page."""
        return len(set(self.denominators)) == 1

    def height_mm(self) -> float:
        """Heading, rows of pictures, each with its words."""
        words = _words_mm(self.decals, self.say) + ROW_GAP_MM
        return HEAD_MM + sum(self.rows_mm) + len(self.rows_mm) * words - ROW_GAP_MM

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw them from their upper left corner."""
        title = figures.count(len(self.decals), "decal").partition(" ")[2].capitalize()
        if self.one_scale:
            title = f"{title}, {figures.scale(self.denominators[0])}"
            scale_bar(sheet, self.denominators[0], x_mm + width_mm, top_mm)
        else:
            title = f"{title}, each to a scale of its own"
        heading(sheet, title, x_mm, top_mm, width_mm)
        unit = column_mm(width_mm, self.columns)
        y = top_mm - HEAD_MM
        for at, tall in enumerate(self.rows_mm):
            y -= tall
            for k in range(at * self.columns, min((at + 1) * self.columns, len(self.decals))):
                x = x_mm + (k % self.columns) * (unit + GUTTER_MM)
                self._picture(sheet, k, x, y)
                self._words(sheet, k, x, y, unit)
            y -= _words_mm(self.decals, self.say) + ROW_GAP_MM

    def _picture(self, sheet: Sheet, k: int, left: float, bottom: float) -> None:
        """The art as it will be cut out, standing on the line of its row."""
        decal, denominator = self.decals[k], self.denominators[k]
        view = View(
            x0_mm=-decal.footprint.width_mm / 2,
            y0_mm=-decal.footprint.height_mm / 2,
            page_x_mm=left,
            page_y_mm=bottom,
            denominator=denominator,
        )
        onto = view.matrix(0.0, 0.0, 0.0)
        sheet.form(art_name(decal, k), onto)
        sheet.form(line_name(k), onto, EDGE)
        if decal.backing is not None:
            sheet.form(backing_name(k), onto, EDGE)

    def _words(self, sheet: Sheet, k: int, left: float, bottom: float, room: float) -> None:
        decal, y = self.decals[k], bottom - NAME_MM
        name = decal.name if len(self.decals) == 1 else f"{k + 1}  {decal.name}"
        sheet.text(left, y, fitted(name, BODY_PT, room, bold=True), bold=True)
        own = "" if self.one_scale else f", {figures.scale(self.denominators[k])}"
        for line in _lines(decal, self.say, own):
            y -= LINE_MM
            sheet.text(left, y, fitted(line, SMALL_PT, room), size_pt=SMALL_PT, colour=GREY)


def _lines(decal: Decal, say: Lengths, own: str = "") -> list[str]:
    """What is said under a picture. own: its scale, where it has one of its own."""
    lines = [f"{_size(decal.contour)} mm{own}"]
    if say.inches:
        sides = decal.contour.width_mm, decal.contour.height_mm
        lines.append(f"{' × '.join(map(say.inch, sides))}″")
    lines.append(CUTS[decal.cut])
    if decal.backing is not None:
        lines.append(f"on a backing of {_size(decal.backing)} mm")
    if decal.rows:
        lines.append("each copy says its own")
    return lines


def _size(outline: Outline) -> str:
    return " × ".join(figures.short(mm, 1) for mm in (outline.width_mm, outline.height_mm))


def pictures(
    decals: tuple[Decal, ...], say: Lengths, width_mm: float, room_mm: float
) -> Pictures | None:
    """The pictures as large as the room lets them, at a round scale; None where none fits.

    One scale for all, unless the smallest could then not be seen.
    """
    return _at_one_scale(decals, say, width_mm, room_mm) or _each_at_its_own(
        decals, say, width_mm, room_mm
    )


def _at_one_scale(
    decals: tuple[Decal, ...], say: Lengths, width_mm: float, room_mm: float
) -> Pictures | None:
    least = min(max(d.footprint.width_mm, d.footprint.height_mm) for d in decals)
    widest = max(decal.footprint.width_mm for decal in decals)
    for denominator in ROUND:
        if least / denominator < SEEN_MM and denominator > 1:
            return None
        made = [
            _rows(decals, say, columns, (denominator,) * len(decals))
            for columns in _columns(len(decals), width_mm)
            if widest / denominator <= column_mm(width_mm, columns)
        ]
        lowest = min(made, key=Pictures.height_mm, default=None)
        if lowest is not None and lowest.height_mm() <= room_mm:
            return lowest
    return None


def _each_at_its_own(
    decals: tuple[Decal, ...], say: Lengths, width_mm: float, room_mm: float
) -> Pictures | None:
    """Equal cells: those in which the pictures cover the most paper."""
    best: tuple[float, Pictures] | None = None
    for columns in _columns(len(decals), width_mm):
        many = -(-len(decals) // columns)
        words = many * (_words_mm(decals, say) + ROW_GAP_MM) - ROW_GAP_MM
        wide, tall = column_mm(width_mm, columns), (room_mm - HEAD_MM - words) / many
        if tall < OWN_LEAST_MM:
            continue
        scales = tuple(
            round_scale(max(d.footprint.width_mm / wide, d.footprint.height_mm / tall))
            for d in decals
        )
        made = _rows(decals, say, columns, scales)
        covered = sum(
            d.footprint.width_mm * d.footprint.height_mm / scale**2
            for d, scale in zip(decals, scales, strict=True)
        )
        if best is None or covered > best[0]:
            best = covered, made
    return None if best is None else best[1]


def _columns(many: int, width_mm: float) -> Sequence[int]:
    return [
        columns
        for columns in range(1, many + 1)
        if columns == 1 or column_mm(width_mm, columns) >= COLUMN_LEAST_MM
    ]


def _rows(
    decals: tuple[Decal, ...], say: Lengths, columns: int, scales: tuple[float, ...]
) -> Pictures:
    tall = [d.footprint.height_mm / scale for d, scale in zip(decals, scales, strict=True)]
    rows = tuple(max(tall[k : k + columns]) for k in range(0, len(tall), columns))
    return Pictures(decals=decals, say=say, columns=columns, denominators=scales, rows_mm=rows)


def _words_mm(decals: tuple[Decal, ...], say: Lengths) -> float:
    """Height of the words under a picture; alike for all, so that rows stand level."""
    return NAME_MM + max(len(_lines(decal, say)) for decal in decals) * LINE_MM + 0.8
