"""nestplan plans a decal run before a metre is printed, and proves the plan."""

__version__ = "0.1.0"
