"""What the check found: the numbered kinds of disagreement, and where."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One disagreement: which kind, which element, what was read, what was meant."""

    kind: str
    where: str
    found: str
    meant: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """holds: claims that were tested and hold, one sentence each; found: those that do not."""

    holds: tuple[str, ...]
    found: tuple[Finding, ...]
