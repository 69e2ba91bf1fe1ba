"""The one place that says when two lengths are the same."""

SAME_MM = 1e-6  # ten thousand times finer than any cutter steps; float64 keeps it over 1 km
