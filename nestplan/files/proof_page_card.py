"""The run card: what the operator hangs at the machines, in type that is read at arm's length."""

from collections import Counter
from dataclasses import dataclass, replace

from nestplan import figures
from nestplan.files.one_line import one_line
from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_fields import Fields
from nestplan.files.proof_flow import draw_stack, pour
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import body_of
from nestplan.files.proof_says import Says
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    FILM,
    FILM_EDGE,
    FRAME,
    GREY,
    INK,
    PAPER,
    PORTRAIT_MM,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_table import Cell, Column, Table
from nestplan.files.proof_words import LAST_WORD, cautions, film_left_g
from nestplan.files.run import Run
from nestplan.marks import Frame

LARGER = (1.25, 1.2, 1.15, 1.1, 1.0)  # than the rest of the proof: as much as one page holds
STRIP_MM, HEAD_WIDE_MM = 15.0, 16.0  # height of the film as drawn; the cutter at its left
ARROW = Stroke(colour=ACCENT, width_pt=1.6)
BOX_MM = 2.6
TICK = Stroke(colour=INK, width_pt=0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPage:
    """Blocks of a page, and by how much they are enlarged."""

    blocks: tuple[Block, ...]
    larger: float


def card_pages(run: Run) -> list[CardPage]:
    """The card on one page, as large as that holds; a run of many frames takes more."""
    each = [_laid(run, larger) for larger in LARGER]
    return next((pages for pages in each if len(pages) == 1), each[0])


def _laid(run: Run, larger: float) -> list[CardPage]:
    left, bottom, right, top = _body(larger)
    blocks: tuple[Block, ...] = (
        _Strip(run=run),
        _steps(run),
        _frames(run),
        *_roll(run),
        Says(title="Cautions", each=cautions(run), lead_mm=16.0, last=LAST_WORD),
        Fields(
            title="Done",
            rows=(
                (("printed by", 0.3), ("time", 0.2), ("cut by", 0.3), ("time", 0.2)),
                (
                    ("100 mm bar across, measured, mm", 0.35),
                    ("100 mm bar along, measured, mm", 0.35),
                    ("copies spoiled", 0.3),
                ),
            ),
        ),
    )
    pages: list[CardPage] = []
    while blocks:
        poured = pour(blocks, right - left, 1, top - bottom, part=True)
        assert poured.columns[0], "every block fits a page, or is parted"
        pages.append(CardPage(blocks=poured.columns[0], larger=larger))
        blocks = poured.rest
    return pages


def draw_card_page(sheet: Sheet, page: CardPage) -> None:
    """Draw one page's body, enlarged."""
    k = page.larger
    left, _, right, top = _body(k)
    sheet.canvas.saveState()
    sheet.canvas.scale(k, k)
    inner = replace(sheet, width_mm=sheet.width_mm / k, height_mm=sheet.height_mm / k, taken=[])
    draw_stack(inner, page.blocks, left, top, right - left)
    sheet.canvas.restoreState()


def _body(larger: float) -> Box:
    """The page's body in the card's own, enlarged millimetres."""
    left, bottom, right, top = body_of(PORTRAIT_MM)
    return left / larger, bottom / larger, right / larger, top / larger


def in_cutting_order(run: Run) -> tuple[Frame, ...]:
    """Frames as they reach the cutter."""
    frames = run.marks.frames
    return frames if run.job.setup.enters == "leading" else tuple(reversed(frames))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strip:
    """The film as it runs into the cutter, frames in the order in which they are cut."""

    run: Run

    def height_mm(self, width_mm: float) -> float:
        return HEAD_MM + STRIP_MM + 9.0

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        run, leading = self.run, self.run.job.setup.enters == "leading"
        edge = "leading" if leading else "trailing"
        heading(sheet, f"Into the cutter: the {edge} edge first", x_mm, top_mm, width_mm)
        y0, y1 = top_mm - HEAD_MM - 3.0 - STRIP_MM, top_mm - HEAD_MM - 3.0
        sheet.box((x_mm, y0 - 2, x_mm + HEAD_WIDE_MM, y1 + 2), INK)
        middle = (y0 + y1) / 2
        words = "cutter"
        sheet.text(
            x_mm + HEAD_WIDE_MM / 2, middle - 0.9, words, bold=True, colour=PAPER, align="centre"
        )
        start, end = x_mm + HEAD_WIDE_MM + 11.0, x_mm + width_mm
        used = run.marks.length_used_mm
        scale = (end - start) / used
        sheet.box((start, y0, end, y1), FILM)
        for frame in run.marks.frames:
            low = frame.y0_mm if leading else used - frame.y0_mm - frame.length_mm
            a, b = start + low * scale, start + (low + frame.length_mm) * scale
            sheet.box((a, y0, b, y1), PAPER, FRAME)
            number = str(frame.index)
            sheet.label((a + b) / 2, middle - 1.4, number, size_pt=11, bold=True, align="centre")
            sheet.label(
                (a + b) / 2,
                y0 + 1.6,
                figures.length(frame.length_mm, 0).figure,
                size_pt=SMALL_PT,
                colour=GREY,
                align="centre",
            )
        for y in (y0, y1):
            sheet.line([(start, y), (end, y)], FILM_EDGE)
        sheet.line([(start, y0), (start, y1)], Stroke(colour=ACCENT, width_pt=2.2))
        sheet.arrow((start - 1.5, middle), (x_mm + HEAD_WIDE_MM + 1.5, middle), ARROW)
        far = "leading" if not leading else "trailing"
        sheet.text(start, y0 - 3.2, f"{edge} edge", size_pt=SMALL_PT, bold=True, colour=ACCENT)
        sheet.text(end, y0 - 3.2, f"{far} edge", size_pt=SMALL_PT, colour=GREY, align="right")

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        return None


def _steps(run: Run) -> Says:
    """What is done, in order."""
    say, job, own = lengths_of(run), run.job, run.times.setups[0]
    frames, marks = in_cutting_order(run), run.marks
    edge = job.setup.enters
    first, last = marks.frames[0].index, marks.frames[-1].index
    piece = "" if job.piece is None else f"{job.piece}, "
    over = "" if job.laminate_piece is None else f", from {job.laminate_piece}"
    printed = f"frames {first} {'and' if last == first + 1 else 'to'} {last}"
    if first == last:
        printed = f"frame {first}"
    each = [
        (
            "Print",
            f"{printed}, leading edge first, on {piece}{one_line(job.roll.name)}: "
            f"{say.film(marks.length_used_mm)} of film, {figures.short(job.roll.left_m)} m are on "
            f"the roll; {one_line(run.times.print_mode)}, {figures.duration(own.print_s)}. Print "
            "at actual size.",
        )
    ]
    if own.lag_s:
        each.append(("Wait", f"{figures.duration(own.lag_s)}: drying, before it is cut."))
    if own.laminate_s:
        each.append(
            ("Laminate", f"{figures.duration(own.laminate_s)}, over the whole length{over}.")
        )
    stays = job.cutter.name == job.printer.name and not own.laminate_s
    each.append(
        (
            "Wind back" if stays else "Mount",
            (
                f"the film stays in {one_line(job.cutter.name)}: "
                if stays
                else f"{say.film(marks.length_used_mm)} on {one_line(job.cutter.name)}: "
            )
            + f"the {edge} edge is cut first; film {say.short(job.roll.width_mm)} wide, printed "
            f"side to the blade{_mirrored(run)}.",
        )
    )
    counted = Counter(len(frame.marks) for frame in marks.frames)
    most, least = max(counted), min(counted)
    many = str(most) if most == least else f"{least} to {most}"
    each.append(
        (
            "Marks",
            f"reading on: {marks.shape}, {say.short(marks.size_mm)}, clear zone "
            f"{say.short(marks.clear_mm)}; {many} a frame. Mark 1 is where the table says.",
        )
    )
    kinds = Counter(
        run.artwork.decals[decal].cut
        for strip in run.nest.strips
        for decal in strip.placements.shape.tolist()
    )
    kinds["through"] += sum(
        run.artwork.decals[decal].backing is not None
        for strip in run.nest.strips
        for decal in strip.placements.shape.tolist()
    )
    tools = "; then ".join(
        f"{kind}: {job.cutter.tools.get(kind, 'the tool for it')}, "
        f"{figures.count(kinds[kind], 'contour')}"
        for kind in ("kiss", "through")
        if kinds[kind]
    )
    each.append(("Tools", f"{tools}. Try depth on the film's margin first."))
    order = ", ".join(str(frame.index) for frame in frames)
    each.append(
        (
            "Cut",
            f"frame {order}" if len(frames) == 1 else f"frames in the order {order}",
        )
    )
    each[-1] = (
        "Cut",
        f"{each[-1][1]}; {figures.duration(own.cut_s)} in all, {figures.path(run.cut.length_mm)} "
        "of cut. Watch the first frame; stop where a mark is not found.",
    )
    slips = len({d.recipient for d in run.artwork.decals if d.recipient is not None})
    without = sum(d.recipient is None for d in run.artwork.decals)
    pack = (
        f"by the {figures.count(slips, 'packing slip')} behind this card" if slips else "by decal"
    )
    if run.cut.extras.tabs:
        each.append(("Tabs", "snap the pieces out by hand, away from the blade; trim what stands."))
    if slips and without:
        pack += f", {figures.count(without, 'decal')} for nobody named by decal"
    each.append(("Pack", f"weed, then {pack}. Hands on in all {figures.duration(own.handling_s)}."))
    return Says(title="Step by step", each=tuple(each), lead_mm=18.0)


def _mirrored(run: Run) -> str:
    """What reverse print looks like to who mounts it: it must not be turned over for that."""
    count = sum(decal.mirrored for decal in run.artwork.decals)
    if not count:
        return ""
    which = "the decals" if count == len(run.artwork.decals) else "the mirrored decals"
    return f", where {which} read wrong way round: reverse print, right through the film"


def _frames(run: Run) -> Table:
    """Frames in cutting order with what is set at the cutter, and a box to tick."""
    leading, used = run.job.setup.enters == "leading", run.marks.length_used_mm
    edge = "leading" if leading else "trailing"
    rows: list[tuple[Cell, ...]] = []
    for order, frame in enumerate(in_cutting_order(run), start=1):
        begin = frame.y0_mm if leading else used - frame.y0_mm - frame.length_mm
        first = min(frame.marks, key=lambda mark: mark.number)
        end = frame.y0_mm if leading else frame.y0_mm + frame.length_mm
        rows.append(
            (
                str(order),
                str(frame.index),
                figures.fixed(begin),
                figures.fixed(frame.length_mm),
                str(len(frame.marks)),
                figures.fixed(first.x_mm),
                figures.fixed(abs(first.y_mm - end)),
                str(len(run.nest.strips[frame.index - 1].placements)),
                _tick,
            )
        )
    return Table(
        title="Frames in the order of the cut, mm",
        columns=(
            Column(name="cut", align="right"),
            Column(name="frame", align="right"),
            Column(name="begins", align="right"),
            Column(name="length", align="right"),
            Column(name="marks", align="right"),
            Column(name="mark 1: left", align="right"),
            Column(name="mark 1: end", align="right"),
            Column(name="copies", align="right"),
            Column(name="done", width_mm=7.0),
        ),
        rows=tuple(rows),
        strong=frozenset(),
        after=f"Begins: behind the {edge} edge of the film. Mark 1: its centre from the left edge "
        f"of the film, seen from the printed side, and from the frame's {edge} end."
        + _in_inches(run),
        row_mm=4.6,
    )


def _in_inches(run: Run) -> str:
    """The same figures in inches, where the job shows them."""
    say = lengths_of(run)
    if not say.inches:
        return ""
    each = [f"frame {frame.index}: {say.inch(frame.length_mm)}″ long" for frame in run.marks.frames]
    return f" In inches {'; '.join(each)}."


def _tick(sheet: Sheet, box: Box) -> None:
    left, bottom, _, top = box
    low = (bottom + top - BOX_MM) / 2
    sheet.box((left, low, left + BOX_MM, low + BOX_MM), None, TICK)


def _roll(run: Run) -> tuple[Block, ...]:
    """What the roll weighs before and after; nothing where the shop does not know its film."""
    grams, roll = film_left_g(run.job.roll), run.job.roll
    if grams is None or roll.weight_g_m2 is None:
        return ()
    used = roll.width_mm / 1000 * run.marks.length_used_mm / 1000 * roll.weight_g_m2
    words = (
        f"{figures.mass(grams)} of film now, {figures.mass(used)} go into this run, "
        f"{figures.mass(max(grams - used, 0.0))} stay; the core is not counted. Weigh it where "
        "the limit is near."
    )
    return (Says(title="What the roll weighs", each=(("Roll", words),), lead_mm=18.0),)
