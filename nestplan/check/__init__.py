"""A folder of written files comes in; where they disagree goes out; no writer is imported."""

from nestplan.check.check_folder import check_folder
from nestplan.check.findings import Finding, Findings, Kind

__all__ = ["Finding", "Findings", "Kind", "check_folder"]
