"""The copies of a numbered decal: its file of rows found, read, and set in its art."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from nestplan.artwork.art import Box
from nestplan.artwork.decal import Row, RowTable
from nestplan.artwork.find import find_file, read_file
from nestplan.artwork.row_art import RowArt, set_rows
from nestplan.artwork.row_table import read_table
from nestplan.faults import Fault, Note
from nestplan.figures import count
from nestplan.geometry.outline import Outline
from nestplan.job import DecalOrder

KINDS = (".csv",)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """How many copies there are and what each says. each: empty where all are alike."""

    quantity: int
    each: tuple[Row, ...] = ()
    table: RowTable | None = None
    notes: tuple[Note, ...] = ()


def rows_of(
    art: RowArt,
    folder: Path,
    order: DecalOrder,
    contour: Outline,
    box: Box,
    centre: tuple[float, float],
    mm_per_px: float,
    where: str,
) -> Rows:
    """A copy a row. box: what the decal's picture shows, page mm; centre: its origin there.

    raises: Fault, Faults.
    """
    assert order.rows is not None, "only a decal with rows is asked"
    path = find_file(folder, order.rows, KINDS, where=f"{where}, rows")
    data = read_file(path, order.rows)
    table = read_table(data, order.rows)
    found = len(table.rows)
    if order.quantity is not None and order.quantity != found:
        raise Fault(
            what=f"quantity is {order.quantity}, and {order.rows} has {count(found, 'row')}",
            where=f"{where}, quantity",
            do=f"delete quantity: a copy is made of each row; or write {found}",
        )
    each, notes = set_rows(art, table, contour, box, centre, mm_per_px)
    digest = hashlib.sha256(data).hexdigest()
    return Rows(
        quantity=found,
        each=each,
        table=RowTable(source=order.rows, digest=digest),
        notes=tuple(notes),
    )
