"""All files of a target, in memory."""

from nestplan.target.cut_lines import cut_lines
from nestplan.target.guide import guide
from nestplan.target.layout import Target
from nestplan.target.print_sheet import print_sheet
from nestplan.target.readings import empty_table

PRINT, CUT, GUIDE, TABLE = (
    "target-print.pdf",
    "target-cut.svg",
    "target-guide.pdf",
    "target-readings.csv",
)


def target_files(target: Target, version: str) -> dict[str, bytes]:
    """Print, cut layer, guide and the table to fill in, by name; the table comes last."""
    return {
        PRINT: print_sheet(target, version),
        CUT: cut_lines(target),
        GUIDE: guide(target, version),
        TABLE: empty_table(target),
    }
