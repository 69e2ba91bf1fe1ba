"""Plane geometry used by several rooms; it knows nothing of decals. Millimetres, degrees."""
