"""A measured figure with its uncertainty, or why it cannot be told."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """value: in the unit that the key's name ends in. half: the 90 % interval reaches so far
    to each side. sd: its standard deviation.
    """

    key: str
    value: float
    sd: float
    half: float

    @property
    def range(self) -> tuple[float, float]:
        """The 90 % interval."""
        return self.value - self.half, self.value + self.half


@dataclass(frozen=True, slots=True, kw_only=True)
class Untold:
    """A figure that the readings cannot tell, and what would."""

    key: str
    why: str
