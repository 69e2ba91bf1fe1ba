"""What the commands say: one line a stage of the flow, figures right-aligned, notes last."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestplan import figures
from nestplan.clock import SetupTimes
from nestplan.faults import Note
from nestplan.figures import Figure
from nestplan.files import Run, bound_said, material, trade_rows, trade_words

if TYPE_CHECKING:  # a price or a plan need not load what measures and checks
    from nestplan.check import Findings
    from nestplan.fit import Fit


def plan_words(run: Run, folder: Path, files: int) -> str:
    """A planned run for a person at a terminal."""
    decals, job = run.artwork.decals, run.job
    copies = sum(decal.quantity for decal in decals)
    extra = sum(run.nest.planned) - copies
    more = f" and {extra} extra" if extra else ""
    head = (
        f"{job.order.name}: {figures.count(copies, 'copy', 'copies')}{more} of "
        f"{figures.count(len(decals), 'decal')}, {job.roll.name}, {job.setup.name}"
    )
    lines = [head, "", *_stages(run), *_trade_lines(run)]
    lines += note_lines(run.notes)
    lines += ["", f"{folder}: {files} files. Before printing: nestplan check {folder}"]
    return "\n".join(lines)


def _stages(run: Run) -> list[str]:
    marks = sum(len(frame.marks) for frame in run.marks.frames)
    frames = len(run.marks.frames)
    split = figures.count(frames, "frame")
    here = run.times.setups[0]
    estimate = run.estimate
    share = figures.money(estimate.per_decal, estimate.currency, 4).figure
    film_cost = figures.money(estimate.film, estimate.currency).figure
    used = figures.percent(material(run).used_percent)
    rows: list[tuple[str, Figure, str]] = [
        (
            "nest",
            figures.length(run.nest.length_mm),
            bound_said(run),
        ),
        (
            "film",
            figures.film(run.marks.length_used_mm),
            f"with leads and marks; decals are {used} of its area",
        ),
        ("marks", Figure(str(marks), ""), f"in {split}"),
        ("error", figures.length(run.errors.p95_mm, 2), _error_words(run)),
        ("print", figures.duration(run.times.print_s), run.times.print_mode),
        (
            "cut",
            figures.duration(run.times.cut_s),
            "; ".join(
                (
                    f"{figures.count(run.cut.contours, 'contour')}, "
                    f"{figures.path(run.cut.length_mm)}",
                    figures.travel_words(run.cut.travel_mm, run.cut.travel_bound_mm),
                    *([", ".join(run.cut.extras.words)] if run.cut.extras.words else []),
                )
            ),
        ),
        (
            "run",
            figures.duration(here.one_run_s),
            f"on {here.name}, door to door{_within(here)}; {here.runs_per_shift} a shift in a row",
        ),
        (
            "cost",
            figures.money(estimate.total, estimate.currency),
            f"{share} per ordered decal, film {film_cost}",
        ),
    ]
    return aligned(rows)


def _trade_lines(run: Run) -> list[str]:
    """What else could be chosen, a line a plan, and what no plan beats."""
    trade = run.trade
    if trade is None:
        return []
    head, *rows = trade_rows(trade, run.estimate.currency)
    cells = [("", *head), *((">" if k == trade.chosen else "", *row) for k, row in enumerate(rows))]
    widths = [max(len(row[k]) for row in cells) for k in range(len(cells[0]))]
    table = []
    for row in cells:
        line = "  ".join(f"{cell:>{w}}" for cell, w in zip(row, widths, strict=True))
        table.append(f"  {line}".rstrip())
    return [
        "",
        f"  aim: least {trade.aim}; > is what was planned",
        *table,
        f"  {trade_words(trade, run.estimate.currency)}",
    ]


def _within(times: SetupTimes) -> str:
    """The interval of a run's time, where it is known."""
    if times.half_s is None:
        return ""
    low, high = max(times.one_run_s - times.half_s, 0.0), times.one_run_s + times.half_s
    return f" (90 %: {figures.duration(low)} to {figures.duration(high)})"


def _error_words(run: Run) -> str:
    errors = run.errors
    said = f"holds 95 % of the cuts; the worst decal {figures.length(errors.worst_mm, 2)}"
    if errors.chance is None:
        return f"{said}, no decal has a bleed"
    most = "" if errors.chance_draws else "at most "
    if errors.chance < 1e-6:
        most = ""
    return f"{said}; any outside its bleed: {most}{figures.chance(errors.chance)}"


def aligned(rows: Iterable[tuple[str, Figure, str]]) -> list[str]:
    """Rows of name, figure, unit and reason in columns."""
    rows = list(rows)
    names = max(len(name) for name, _, _ in rows)
    digits = max(len(figure.figure) for _, figure, _ in rows)
    units = max(len(figure.unit) for _, figure, _ in rows)
    return [
        f"  {name:<{names}}  {figure.figure:>{digits}} {figure.unit:<{units}}   {why}".rstrip()
        for name, figure, why in rows
    ]


def note_lines(notes: Iterable[Note]) -> list[str]:
    notes = list(notes)
    if not notes:
        return []
    where = max(len(note.where) for note in notes)
    return ["", *(f"  {note.level:<4}   {note.where:<{where}}   {note.text}" for note in notes)]


def check_words(findings: "Findings", folder: Path) -> str:
    """Findings first, each with what was read and what was meant; claims that hold are counted."""
    lines = []
    for finding in findings.found:
        lines += [
            f"  {finding.kind.number}  {finding.where}",
            f"       {finding.kind.sentence}",
            f"       found  {finding.found}",
            f"       meant  {finding.meant}",
            "",
        ]
    tested = len(findings.holds)
    holds = figures.count(tested, "claim holds", "claims hold")
    if not findings.found:
        return f"{folder}: {holds}, nothing was found against the plan"
    against = figures.count(len(findings.found), "finding")
    return "\n".join([f"{folder}: {against}, {holds}", "", *lines])


def findings_json(findings: "Findings") -> dict[str, Any]:
    """The same for programs."""
    return {
        "holds": list(findings.holds),
        "found": [
            {
                "number": finding.kind.number,
                "kind": finding.kind.sentence,
                "where": finding.where,
                "found": finding.found,
                "meant": finding.meant,
            }
            for finding in findings.found
        ],
    }


def fit_words(fit: "Fit", folder: Path, files: int) -> str:
    """A verdict for each frame that was measured, with what to do."""
    lines = [f"{fit.plan.job}: {fit.measured.name} against plan {fit.plan.digest[:12]}", ""]
    for each in fit.frames:
        name = "sheet" if each.frame is None else f"frame {each.frame.index}"
        lines += [
            f"  {name}: {each.verdict}",
            f"       why    {each.judged.why}",
            f"       do     {each.judged.do}",
            *(f"       look   {note}" for note in each.notes),
            "",
        ]
    if fit.unmeasured:
        numbers = ", ".join(str(index) for index in fit.unmeasured)
        lines += [f"  not measured: frame {numbers}", ""]
    return "\n".join([*lines, f"{folder}: {figures.count(files, 'file')}"])
