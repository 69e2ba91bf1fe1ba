"""What is wrong with the art, as the summary tells it: told as a note, and on its decal."""

from collections.abc import Iterator

import numpy as np

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.said import SUMMARY, Said
from nestplan.check.words import place

SLACK_MM = 0.01


def art_fault_claims(said: Said) -> list[Claim]:
    """Every fault of the art is a note of the plan, and lies where its decal prints."""
    return [
        Claim(
            says="what is wrong with the art is told as notes, each at a place on its decal",
            against=tuple(_astray(said)),
        )
    ]


def _astray(said: Said) -> Iterator[Finding]:
    notes = {(note.level, note.where, note.text) for note in said.notes}
    for number, decal in enumerate(said.decals, start=1):
        points = np.concatenate([np.array(ring) for ring in decal.contour])
        room = decal.bleed_mm + SLACK_MM
        low, high = points.min(axis=0) - room, points.max(axis=0) + room
        for at, fault in enumerate(decal.faults, start=1):
            where = f"{SUMMARY}, decals {number} faults {at}"
            if (fault.level, fault.where, fault.text) not in notes:
                yield Finding(
                    kind=Kind.SUMMARY_WRONG,
                    where=where,
                    found=f"{fault.kind}: no note says it",
                    meant="a note with its words",
                )
            here = np.array([fault.x_mm, fault.y_mm])
            if (here < low).any() or (here > high).any():
                yield Finding(
                    kind=Kind.SUMMARY_WRONG,
                    where=where,
                    found=f"a place at {place(fault.x_mm, fault.y_mm)}",
                    meant="a place on the decal or its bleed",
                )
