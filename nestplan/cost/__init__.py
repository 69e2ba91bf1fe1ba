"""Film, times and rates come in; a price for the run and for each decal goes out."""

from nestplan.cost.estimate import Estimate, estimate

__all__ = ["Estimate", "estimate"]
