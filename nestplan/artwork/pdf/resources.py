"""What a name of a content stream stands for (ISO 32000-1, 7.8.3)."""

import pikepdf
from pikepdf import Dictionary, Name

Instruction = pikepdf.ContentStreamInstruction | pikepdf.ContentStreamInlineImage


def named(
    resources: pikepdf.Object | None, kind: str, name: pikepdf.Object
) -> pikepdf.Object | None:
    """The resource of a kind ("/Font") that has this name; None when there is none."""
    if resources is None or not isinstance(name, Name):
        return None
    table = resources.get(kind)
    return table.get(name) if isinstance(table, Dictionary) else None
