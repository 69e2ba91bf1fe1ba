"""Compiled: exits of pairs, and how deep one endless file of pieces slides into another."""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; arrays are float64 unless they number something)

from math import ceil, floor, sqrt

from nestplan.nest.raw import compiled

FAR = 1e9


@compiled
def exit_at(rows, begin, end, apart, x):
    """Upper side of a grown field at one abscissa."""
    upper = -FAR
    for k in range(begin, end):
        if rows[k, 0] <= x <= rows[k, 1]:
            upper = max(upper, rows[k, 2] + (x - rows[k, 0]) * rows[k, 3])
        off = x - rows[k, 4]
        inside = apart * apart - off * off
        if inside >= 0.0:
            upper = max(upper, rows[k, 5] + sqrt(inside))
    return upper


@compiled
def exits(rows, apart, offsets, found):
    """Upper side at many abscissas."""
    for k in range(offsets.shape[0]):
        found[k] = exit_at(rows, 0, rows.shape[0], apart, offsets[k])


@compiled
def slides(rows, spans, apart, tables, starts, lower, upper, pitch, phases, exact, found):
    """Greatest exit between all pieces of two endless files of one pitch, at shifts."""
    last = tables.shape[2] - 1
    for k in range(phases.shape[0]):
        most = -FAR
        for a in range(lower.shape[0]):
            for b in range(upper.shape[0]):
                i, j = int(lower[a, 0]), int(upper[b, 0])
                low, scale = starts[i, j, 0], starts[i, j, 1]
                high = low + last / scale
                at = phases[k] + upper[b, 1] - lower[a, 1]
                rise = lower[a, 2] - upper[b, 2]
                for turn in range(ceil((low - at) / pitch), floor((high - at) / pitch) + 1):
                    x = at + turn * pitch
                    if exact:
                        over = exit_at(rows, spans[i, j, 0], spans[i, j, 1], apart, x)
                    else:
                        place = (x - low) * scale
                        cell = min(max(int(place), 0), last - 1)
                        part = place - cell
                        over = (1.0 - part) * tables[i, j, cell] + part * tables[i, j, cell + 1]
                    most = max(most, over + rise)
        found[k] = most
