"""What is odd about single copies, told once where every copy of a decal shares it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from nestplan.check.findings import Finding, Kind
from nestplan.check.said import Said
from nestplan.figures import count

Key = tuple[int, int]  # decal and copy, both from 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Odd:
    """A finding about one copy before it is told."""

    key: Key
    kind: Kind
    found: str
    meant: str


def told(said: Said, file: str, odds: Iterable[Odd], there: Mapping[int, int]) -> list[Finding]:
    """Findings; where all copies of a decal in a file are odd in one way, one for all.

    there: how many copies of each decal (from 1) the file has.
    """
    groups: dict[tuple[int, Kind, str], list[Odd]] = defaultdict(list)
    for odd in odds:
        groups[odd.key[0], odd.kind, odd.found].append(odd)
    findings = []
    for (decal, kind, found), group in groups.items():
        meant = {odd.meant for odd in group}
        if len(group) > 1 and len(group) == there.get(decal, 0):
            where = f"{file}, {said.name(decal)}, all {count(len(group), 'copy', 'copies')}"
            same = meant.pop() if len(meant) == 1 else "as planned"
            findings.append(Finding(kind=kind, where=where, found=found, meant=same))
        else:
            findings += [
                Finding(
                    kind=kind,
                    where=f"{file}, {said.copy_name(*odd.key)}",
                    found=found,
                    meant=odd.meant,
                )
                for odd in group
            ]
    return findings
