"""Names that people typed, fit to stand in a line of print or in XML."""


def one_line(text: str, most: int | None = None) -> str:
    """The text on one line: what cannot be printed becomes a space, runs of space become one.

    most: longer texts lose their end for an ellipsis, so that the result has `most` characters.
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if most is not None and len(line) > most:
        return line[: most - 1].rstrip() + "…"
    return line
