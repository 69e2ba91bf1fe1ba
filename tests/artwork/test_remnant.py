"""Film that is not whole, from a drawing: its place on the roll, and what cannot be film."""

from dataclasses import replace

import pytest

from nestplan.artwork.remnant import load_remnant
from nestplan.faults import OUT_OF_REACH, WRONG_INPUT, Fault, Faults
from tests.files.handmade import a_job


def drawn(lines: str, size: str = 'width="600mm" height="300mm"') -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 600 300">'
        f'<g fill="none" stroke="#000">{lines}</g></svg>'
    )


def load(folder, svg: str, name: str = "corner.svg"):
    """The remnant, and the notes on it, on a roll of 600 mm."""
    (folder / name).write_text(svg)
    return load_remnant(replace(a_job(), path=folder / "job.toml"), name)


CORNER = "M0 0 H600 V200 L500 300 H0 Z"  # lower right: 100 by 100 mm are gone


def test_the_page_stands_on_the_leading_edge(tmp_path):
    remnant, notes = load(tmp_path, drawn(f'<path d="{CORNER}"/>'))

    assert remnant.outline.bounds_mm == pytest.approx((0, 0, 600, 300))
    gone = remnant.missing(600.0)
    assert gone.area == pytest.approx(100 * 100 / 2)
    assert gone.bounds == pytest.approx((500, 0, 600, 100))
    assert "0.01 m² are missing before 300.0 mm" in notes[-1].text


def test_a_hole_is_film_that_is_used_up_and_a_narrow_remnant_lacks_the_rest(tmp_path):
    lines = '<path d="M0 0 H400 V300 H0 Z"/><rect x="50" y="200" width="40" height="30"/>'
    remnant, _ = load(tmp_path, drawn(lines))
    gone = remnant.missing(600.0)

    assert gone.area == pytest.approx(200 * 300 + 40 * 30)
    assert gone.contains(remnant.outline.region) is False
    assert sorted(part.bounds[1] for part in gone.geoms) == pytest.approx([0, 70])


def test_film_that_is_whole_lacks_nothing(tmp_path):
    remnant, _ = load(tmp_path, drawn('<rect width="600" height="300"/>'))

    assert remnant.missing(600.0).is_empty


@pytest.mark.parametrize(
    ("svg", "says", "code"),
    [
        (drawn(f'<path d="{CORNER}"/>', 'width="600" height="300"'), "no size in mm", WRONG_INPUT),
        (drawn(""), "no line", WRONG_INPUT),
        (drawn('<path d="M0 0 H600 V300"/>'), "open", WRONG_INPUT),
        (drawn('<path d="M0 0 L600 300 H0 L600 0 Z"/>'), "cross", WRONG_INPUT),
        (
            drawn('<path d="M0 0 H200 V300 H0 Z M300 0 H600 V300 H300 Z"/>'),
            "2 pieces",
            WRONG_INPUT,
        ),
        (drawn('<path d="M0 0 H620 V300 H0 Z"/>'), "620.0 mm from its left edge", OUT_OF_REACH),
        (drawn('<path d="M0 0 H600 V310 H0 Z"/>'), "10.0 mm beyond", WRONG_INPUT),
        ("no drawing", "corner.svg", WRONG_INPUT),
    ],
)
def test_what_cannot_be_film_is_answered(tmp_path, svg, says, code):
    with pytest.raises((Fault, Faults)) as caught:
        load(tmp_path, svg)
    assert says in str(caught.value)
    assert caught.value.code == code


def test_a_picture_is_no_outline(tmp_path):
    with pytest.raises(Fault, match=r"no \.svg"):
        load(tmp_path, "", "corner.png")
