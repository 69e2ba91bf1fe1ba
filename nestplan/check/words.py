"""Figures as findings say them."""

from nestplan.figures import count, fixed


def place(x_mm: float, y_mm: float) -> str:
    """A place on the film."""
    return f"x {fixed(x_mm, 2)}, y {fixed(y_mm, 2)} mm"


def turn_words(degrees: float) -> str:
    """How far something is turned, and which way."""
    way = "counter-clockwise" if degrees > 0 else "clockwise"
    return f"turned by {fixed(abs(degrees), 2)}° {way}"


def size_words(scale: float) -> str:
    """How much too large or small."""
    return f"{fixed(abs(scale - 1) * 100, 2)} % too {'large' if scale > 1 else 'small'}"


def holes_words(number: int) -> str:
    """No hole, 1 hole, 2 holes."""
    return count(number, "hole") if number else "no hole"
