"""What the command says: setups side by side."""

from pathlib import Path

from nestplan import figures
from nestplan.compare.comparison import Comparison
from nestplan.compare.rows import crossing_words, no_crossing_words, overtake_words, rows


def compare_words(comparison: Comparison, folder: Path, files: int) -> str:
    """A column a setup."""
    here = comparison.here
    table = [("", [one.setup for one in here]), *rows(comparison)]
    names = max(len(name) for name, _ in table)
    widths = [max(len(cells[k]) for _, cells in table) for k in range(len(here))]
    copies = figures.count(here[0].copies, "copy", "copies")
    lines = [f"{comparison.job}: {copies} on {figures.count(len(here), 'setup')}", ""]
    for name, cells in table:
        set_cells = "   ".join(f"{cell:<{wide}}" for cell, wide in zip(cells, widths, strict=True))
        lines.append(f"  {name:<{names}}   {set_cells}".rstrip())
    lines.append("")
    lines += [f"  {crossing_words(each)}" for each in comparison.crossings]
    lines += [f"  {overtake_words(each)}" for each in comparison.overtakes]
    lines += [f"  {words}" for words in no_crossing_words(comparison)]
    for mix in comparison.mixes:
        lines.append(
            f"  the day's {mix.jobs} jobs on {mix.setup} alone: {mix.done} done in the shift, the "
            f"last after {figures.duration(mix.end_s)}"
        )
    lines += [f"  without {name}: {why}" for name, why in comparison.without]
    return "\n".join([*lines, "", f"{folder}: {figures.count(files, 'file')}"])
