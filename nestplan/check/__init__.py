"""A folder of written files comes in; where they disagree goes out; no writer is imported."""

from nestplan.check.findings import Finding, Findings

__all__ = ["Finding", "Findings"]
