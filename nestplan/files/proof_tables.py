"""The tables of the proof's first page: film, decals, time, cost, and the notes."""

from nestplan import figures
from nestplan.files.material import Material
from nestplan.files.one_line import one_line
from nestplan.files.proof_drawing import draw_thumb
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_says import Says
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import ACCENT, CUT
from nestplan.files.proof_table import Cell, Column, Draw, Table, swatch
from nestplan.files.proof_words import notes
from nestplan.files.run import Run, bound_said
from nestplan.nest import Carried

FILLS = ("#1F5F8B", "#6F93AC", "#A9BDCB", "#C9D4DC", "#D9DEE2", "#E8EBED")
THUMB_ROW_MM, LOW_THUMB_ROW_MM, FEW_DECALS = 7.0, 5.4, 6  # rows with a picture in them
TURNS = {"none": "none", "half": "half", "quarter": "quarter", "free": "any"}


def notes_block(run: Run) -> Says:
    """What a person should hear about this plan."""
    return Says(
        title="Notes",
        each=notes(run.notes),
        lead_mm=11.0,
        loud=(("stop", CUT), ("look", ACCENT)),
    )


def film_table(run: Run, used: Material) -> Table:
    """Film used, its area, the nest and how near it is to the best possible."""
    say = lengths_of(run)
    rows: list[tuple[str, figures.Figure]] = [
        ("film used", figures.film(run.marks.length_used_mm)),
        ("film area", figures.area(used.film_mm2)),
        ("left on the roll", figures.film(run.job.roll.left_m * 1000 - run.marks.length_used_mm)),
        ("length of the nest", figures.length(run.nest.length_mm)),
    ]
    if say.inches:
        rows.insert(1, ("", figures.Figure(say.inch(run.marks.length_used_mm), "in")))
        rows.append(("", figures.Figure(say.inch(run.nest.length_mm), "in")))
    return Table(
        title="Film",
        columns=_facts(),
        rows=tuple((name, figure.figure, figure.unit) for name, figure in rows),
        after=f"{bound_said(run).capitalize()}. Bound: {one_line(run.nest.bound_reason)}.",
    )


def carried_table(carried: Carried) -> Table:
    """What became of the former plan's copies."""
    rows = [
        ("stayed in their places", carried.stayed),
        ("moved", carried.moved),
        ("came", carried.came),
        ("went", carried.went),
    ]
    return Table(
        title="Copies since the former plan",
        columns=(Column(stretch=True), Column(align="right")),
        rows=tuple((name, str(number)) for name, number in rows),
        after=f"The former plan had {carried.before}.",
    )


def goes_table(used: Material) -> Table:
    """Into decals, and into which waste."""
    parts = (
        ("decals", used.decals_mm2),
        ("between decals", used.between_mm2),
        ("frame ends, marks", used.frame_ends_mm2),
        ("lead, tail, gaps", used.unprinted_mm2),
        ("margins", used.margins_mm2),
    )
    rows: list[tuple[Cell, ...]] = [
        (swatch(fill), name, figures.percent(100 * area / used.film_mm2).figure, _area(area))
        for fill, (name, area) in zip(FILLS, parts, strict=False)
    ]
    waste = used.film_mm2 - used.decals_mm2
    rows.append(("", "waste in all", figures.percent(used.waste_percent).figure, _area(waste)))
    return Table(
        title="Where the film goes",
        columns=(
            Column(width_mm=2.6),
            Column(stretch=True),
            Column(name="%", align="right"),
            Column(name="m²", align="right"),
        ),
        rows=tuple(rows),
        bar=tuple(
            (max(area, 0.0) / used.film_mm2, fill)
            for fill, (_, area) in zip(FILLS, parts, strict=False)
        ),
        strong=frozenset({len(parts)}),
    )


def _area(mm2: float) -> str:
    return figures.area(mm2).figure


def decals_table(run: Run) -> Table:
    """One row a decal, with its picture."""
    planned, say = run.nest.planned, lengths_of(run)
    rows: list[tuple[Cell, ...]] = []
    for index, decal in enumerate(run.artwork.decals):
        rows.append(
            (
                str(index + 1),
                thumb(run, index),
                decal.name,
                say.bare(decal.contour.width_mm),
                say.bare(decal.contour.height_mm),
                decal.cut if decal.backing is None else f"{decal.cut}, backing",
                figures.short(decal.bleed_mm),
                decal.direction,
                "none" if run.job.roll.directional else TURNS[decal.rotate],
                str(decal.quantity),
                str(planned[index]),
            )
        )
    return Table(
        title=f"Decals, lengths in mm{' (inches)' if say.inches else ''}",
        columns=(
            Column(align="right"),
            Column(width_mm=9.5),
            Column(name="name", stretch=True),
            Column(name="width", align="right"),
            Column(name="height", align="right"),
            Column(name="cut"),
            Column(name="bleed", align="right"),
            Column(name="top to"),
            Column(name="turns"),
            Column(name="ordered", align="right"),
            Column(name="planned", align="right"),
        ),
        rows=tuple(rows),
        row_mm=THUMB_ROW_MM if len(rows) <= FEW_DECALS else LOW_THUMB_ROW_MM,
        after=_asked_words(run),
    )


def _asked_words(run: Run) -> str:
    """Which decals are kept together, and which one fills the last frame."""
    decals = list(enumerate(run.artwork.decals, start=1))
    kept = [str(number) for number, decal in decals if decal.keep_together]
    fills = [str(number) for number, decal in decals if decal.name == run.job.order.fill_with]
    said = [f"Kept together in a band: {', '.join(kept)}."] if kept else []
    said += [f"Extra copies fill the last frame: {fills[0]}."] if fills else []
    return " ".join(said)


def thumb(run: Run, decal: int) -> Draw:
    """A cell that shows a decal."""

    def draw(sheet: Sheet, box: Box) -> None:
        draw_thumb(sheet, run, decal, box)

    return draw


def time_table(run: Run) -> Table:
    """Print, wait, hands, cut, door to door, on the job's own setup."""
    own = run.times.setups[0]
    rows = [
        ("print", figures.duration(own.print_s)),
        ("drying", figures.duration(own.lag_s)),
        ("hands on", figures.duration(own.handling_s)),
        *([("laminate", figures.duration(own.laminate_s))] if run.job.laminate else []),
        ("cut", figures.duration(own.cut_s)),
        ("door to door", figures.duration(own.one_run_s)),
        *([] if own.half_s is None else [("90 %: more or less", figures.duration(own.half_s))]),
    ]
    return Table(
        title=f"Time, {one_line(own.name)}",
        columns=_facts(),
        rows=tuple((name, figure.figure, figure.unit) for name, figure in rows),
        strong=frozenset({[name for name, _ in rows].index("door to door")}),
        after=f"Print mode: {one_line(run.times.print_mode)}. "
        f"{figures.count(run.cut.contours, 'contour')}, {figures.path(run.cut.length_mm)} of cut, "
        f"{figures.travel_words(run.cut.travel_mm, run.cut.travel_bound_mm)}."
        f"{_more_cut(run)}",
    )


def _more_cut(run: Run) -> str:
    words = ", ".join(run.cut.extras.words)
    return f" {words[0].upper()}{words[1:]}." if words else ""


def cost_table(run: Run) -> Table:
    """The parts of the price, their total, and the share of one decal."""
    e = run.estimate
    rows = [
        ("film", e.film),
        ("ink", e.ink),
        ("labour", e.labour),
        ("machines", e.machine),
        ("total", e.total),
    ]
    each = figures.money(e.per_decal, e.currency, 4)
    return Table(
        title=f"Cost, {e.currency}",
        columns=(Column(stretch=True), Column(align="right")),
        rows=tuple((name, figures.money(amount, e.currency).figure) for name, amount in rows),
        strong=frozenset({len(rows) - 1}),
        after=f"{each} per ordered decal, on average.",
    )


def _facts() -> tuple[Column, ...]:
    return (
        Column(stretch=True),
        Column(align="right"),
        Column(width_mm=7.0, quiet=True),
    )
