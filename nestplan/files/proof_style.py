"""The proof's typography and palette: one family, three sizes, four greys, two hues.

The hues lie on the blue-orange axis, which the common kinds of colour blindness keep
apart, and their greys differ; whatever a colour says, a line style or a word says too.
"""

from dataclasses import dataclass

PT_PER_MM = 72 / 25.4

TITLE_PT, BODY_PT, SMALL_PT = 15.0, 7.2, 5.8
CAP = 0.73  # height of a capital over the type size
DROP = 0.24  # depth of a descender over the type size

PORTRAIT_MM, LANDSCAPE_MM = (210.0, 297.0), (297.0, 210.0)  # A4, ISO 216:2007
MARGIN_X_MM, MARGIN_TOP_MM, MARGIN_BOTTOM_MM = 14.0, 12.0, 13.0
GUTTER_MM = 5.0  # between columns of text
BLOCK_GAP_MM = 5.0  # between blocks in a column
HEADER_MM, FOOTER_MM = 14.0, 3.5

INK = "#1B2530"
GREY = "#5F6B76"
RULE = "#C4CBD1"
FAINT = "#E3E7EA"
FILM = "#ECEFF1"
GONE = "#8E99A3"  # film that is not there
PAPER = "#FFFFFF"
ACCENT = "#1F5F8B"  # what a person must find: first mark, entering edge
SAFE = "#D9E8F3"
CUT = "#B23A1E"
HALO = "#7FB2DC"  # round what is not where it was


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line as it is printed; dash: lengths on and off, points."""

    colour: str
    width_pt: float
    dash_pt: tuple[float, ...] = ()

    def times(self, factor: float) -> "Stroke":
        """The same line, finer or coarser."""
        dash = tuple(factor * length for length in self.dash_pt)
        return Stroke(colour=self.colour, width_pt=factor * self.width_pt, dash_pt=dash)


HAIRLINE = Stroke(colour=RULE, width_pt=0.35)
ROW_LINE = Stroke(colour=FAINT, width_pt=0.35)
HEAD_LINE = Stroke(colour=INK, width_pt=0.6)
DIMENSION = Stroke(colour=GREY, width_pt=0.3)
FILM_EDGE = Stroke(colour=INK, width_pt=0.9)
FILM_BREAK = Stroke(colour=INK, width_pt=0.5, dash_pt=(3, 2))
PRINTABLE = Stroke(colour=GREY, width_pt=0.4, dash_pt=(4, 1.5, 0.8, 1.5))
FRAME = Stroke(colour=INK, width_pt=0.4)
CLEAR = Stroke(colour=INK, width_pt=0.3, dash_pt=(1.2, 0.9))
WHITE = Stroke(colour=ACCENT, width_pt=0.45)
WHITE_CASING = Stroke(colour=PAPER, width_pt=1.1)
SLUG = Stroke(colour=GREY, width_pt=0.35)
SPOILED = Stroke(colour=GREY, width_pt=0.3)
ANEW = Stroke(colour=HALO, width_pt=3.2)
CASING = Stroke(colour=PAPER, width_pt=0.85)
KISS = Stroke(colour=CUT, width_pt=0.45)
THROUGH = Stroke(colour=CUT, width_pt=0.6, dash_pt=(2.2, 1.1))
WEED = Stroke(colour=GREY, width_pt=0.5, dash_pt=(0.8, 0.9))
TAB = Stroke(colour=INK, width_pt=0.9)
BAND = Stroke(colour=ACCENT, width_pt=0.7, dash_pt=(5, 1.6))
ENTERS = Stroke(colour=ACCENT, width_pt=1.8)
