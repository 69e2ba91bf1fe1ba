"""The words of a frame's page: marks, tape measure, loading, and which decals lie in it."""

from collections import Counter

from nestplan import figures
from nestplan.files.one_line import one_line
from nestplan.files.proof_distances import tape_distances
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_says import Says
from nestplan.files.proof_table import Cell, Column, Table
from nestplan.files.proof_tables import LOW_THUMB_ROW_MM, thumb
from nestplan.files.run import Run
from nestplan.marks import Frame

NAME_MOST = 30  # letters of a name within a sentence


def loading_block(run: Run, frame: Frame) -> Says:
    """How the frame goes into the cutter, and what is cut with what."""
    leading = run.job.setup.enters == "leading"
    first = min(frame.marks, key=lambda mark: mark.number)
    end = frame.y0_mm if leading else frame.y0_mm + frame.length_mm
    edge = "leading" if leading else "trailing"
    marks, say = run.marks, lengths_of(run)
    each = [
        ("Enters", f"the {edge} edge first"),
        (
            "Mark 1",
            f"{say.full(first.x_mm)} from the left film edge, "
            f"{say.full(abs(first.y_mm - end))} from the {edge} end",
        ),
        (
            "Marks",
            f"{marks.shape}, {say.short(marks.size_mm)}, clear zone {say.short(marks.clear_mm)}",
        ),
    ]
    strokes = run.cut.frames[frame.index - 1].strokes
    kinds = list(dict.fromkeys(stroke.tool for stroke in strokes))
    tools = [
        f"{kind} {run.job.cutter.tools[kind]}" for kind in kinds if kind in run.job.cutter.tools
    ]
    if tools:
        each.append(("Tools", ", then ".join(tools)))
    if strokes:
        name = one_line(run.artwork.decals[strokes[0].decal].name, NAME_MOST)
        each.append(("First", f"{name}, copy {strokes[0].copy}"))
    return Says(title="Loading and cutting", each=tuple(each), lead_mm=12.0)


def marks_table(run: Run, frame: Frame, *, inches: bool = False) -> Table:
    """Where each mark's centre stands, in the run and on the frame's page."""
    figure = lengths_of(run).inch if inches else figures.fixed
    rows = [
        (
            str(mark.number),
            figure(mark.x_mm),
            figure(mark.y_mm),
            figure(mark.x_mm - run.page_x0_mm),
            figure(mark.y_mm - frame.y0_mm),
        )
        for mark in sorted(frame.marks, key=lambda mark: mark.number)
    ]
    return Table(
        title=f"Marks, {'in' if inches else 'mm'}",
        columns=(
            Column(name="mark", align="right"),
            Column(name="run x", align="right"),
            Column(name="run y", align="right"),
            Column(name="page x", align="right"),
            Column(name="page y", align="right"),
        ),
        rows=tuple(rows),
        after="Centres. Run: from the left edge of the film and its leading edge. Page: from the "
        "lower left corner of the frame's page in print.pdf.",
    )


def tape_table(run: Run, frame: Frame) -> Table:
    """The distances a person checks, with room to write what was read."""
    say = lengths_of(run)
    rows = [
        (
            str(distance.start),
            str(distance.end),
            distance.way,
            figures.fixed(distance.length_mm),
            *([say.inch(distance.length_mm)] if say.inches else []),
            "",
        )
        for distance in tape_distances(frame.marks)
    ]
    return Table(
        title="Tape check, mm",
        columns=(
            Column(name="from", align="right"),
            Column(name="to", align="right"),
            Column(quiet=True, stretch=True),
            Column(name="planned", align="right"),
            *([Column(name="in", align="right", quiet=True)] if say.inches else []),
            Column(name="measured", align="right"),
        ),
        rows=tuple(rows),
        after="From centre to centre, rounded to 0.1 mm.",
    )


def copies_table(run: Run, frame: Frame) -> Table:
    """Which decals lie in this frame, and how often."""
    strip = run.nest.strips[frame.index - 1]
    shapes = strip.placements.shape.tolist()
    counted = Counter(shapes)
    rows: list[tuple[Cell, ...]] = []
    for decal in sorted(counted):
        rows.append(
            (
                str(decal + 1),
                thumb(run, decal),
                run.artwork.decals[decal].name,
                str(counted[decal]),
            )
        )
    return Table(
        title="Decals in this frame",
        columns=(
            Column(align="right"),
            Column(width_mm=7.5),
            Column(name="name", stretch=True),
            Column(name="copies", align="right"),
        ),
        rows=tuple(rows),
        row_mm=LOW_THUMB_ROW_MM,
    )
