"""Whether the print reaches as far beyond the contour as the bleed says."""

import re

import numpy as np
import pytest

from tests.artwork.handmade import disc, loaded, png, svg


def bleed_notes(tmp_path, art, name="plate.svg", **order):
    notes = loaded(tmp_path, art, name, **order).notes
    return [note for note in notes if "bleed" in note.where]


def share(note) -> float:
    """The percentage a note tells."""
    return float(re.search(r"along (\d+) %", note.text)[1])


def plate(beyond_mm: float, fill="#036") -> str:
    """A background that reaches so far beyond its cut line on all sides."""
    return svg(
        f'<rect x="{10 - beyond_mm}" y="{10 - beyond_mm}" width="{60 + 2 * beyond_mm}" '
        f'height="{30 + 2 * beyond_mm}" fill="{fill}"/>'
        '<g id="cut"><rect x="10" y="10" width="60" height="30" fill="none"/></g>'
    )


@pytest.mark.parametrize("beyond_mm", [2.0, 3.0, 9.0])
def test_a_background_that_fills_the_bleed_is_no_matter(tmp_path, beyond_mm):
    assert not bleed_notes(tmp_path, plate(beyond_mm), contour="layer:cut", bleed_mm=2.0)


@pytest.mark.parametrize(("beyond_mm", "told"), [(0.0, "0.0"), (1.0, "1.0"), (1.5, "1.5")])
def test_a_background_that_ends_too_early_is_told_with_figures(tmp_path, beyond_mm, told):
    """Ink is followed in eighths of the bleed, so these ends are met exactly."""
    (note,) = bleed_notes(tmp_path, plate(beyond_mm), contour="layer:cut", bleed_mm=2.0)

    assert note.level == "look"
    assert "along 100 % of the contour" in note.text
    assert f"before the bleed of 2.0 mm does, as little as {told} mm beyond the cut" in note.text
    assert note.where == 'regatta.toml, [[decal]] 1 "plate", bleed_mm'


def test_a_side_that_is_short_is_told_with_its_share(tmp_path):
    """The right side of 30 mm, of 180 mm around: 17 %."""
    art = svg(
        '<rect x="5" y="5" width="65" height="40" fill="#036"/>'
        '<rect id="cut" x="10" y="10" width="60" height="30" fill="none"/>'
    )

    (note,) = bleed_notes(tmp_path, art, contour="layer:cut", bleed_mm=2.0)

    assert share(note) == pytest.approx(100 * 30 / 180, abs=1)


@pytest.mark.parametrize(
    "art",
    [
        svg('<rect x="15" y="15" width="50" height="20"/><rect id="cut" x="10" y="10" width="60" '
            'height="30" fill="none"/>'),
        plate(0.0, fill="white"),
        plate(0.0, fill="none"),
    ],
    ids=["art stands clear of the edge", "white on white film", "nothing printed"],
)  # fmt: skip
def test_an_edge_without_ink_needs_no_bleed(tmp_path, art):
    assert not bleed_notes(tmp_path, art, contour="layer:cut", bleed_mm=2.0)


def test_an_outer_edge_has_no_bleed_by_its_nature_and_says_so(tmp_path):
    art = svg('<circle cx="40" cy="30" r="20"/>')

    (note,) = bleed_notes(tmp_path, art, contour="outline", bleed_mm=2.0)

    assert "100 %" in note.text
    assert not bleed_notes(tmp_path, art, contour="outline", bleed_mm=0.0)
    assert not bleed_notes(tmp_path, art, contour="offset:2", bleed_mm=2.0)
    (inside,) = [bleed_notes(tmp_path, art, contour="offset:-2", bleed_mm=2.0)]
    assert inside == []


def test_a_hole_needs_bleed_into_the_hole(tmp_path):
    art = svg(
        '<rect width="100" height="60" fill="#036"/><circle cx="40" cy="25" r="6" fill="white"/>'
        '<g id="cut" fill="none"><rect x="10" y="10" width="60" height="30"/>'
        '<circle cx="40" cy="25" r="6"/></g>'
    )

    (note,) = bleed_notes(tmp_path, art, contour="layer:cut", bleed_mm=2.0)

    hole_mm = 2 * np.pi * 6
    assert share(note) == pytest.approx(100 * hole_mm / (180 + hole_mm), abs=1)


def test_a_picture_of_pixels_is_looked_at_too(tmp_path):
    art = png(disc(150), dpi=(300, 300))

    assert bleed_notes(tmp_path, art, "plate.png", contour="outline", bleed_mm=1.0)
    assert bleed_notes(tmp_path, art, "plate.png", contour="offset:-0.5", bleed_mm=1.0)
    assert not bleed_notes(tmp_path, art, "plate.png", contour="offset:-1.2", bleed_mm=1.0)
    assert not bleed_notes(tmp_path, art, "plate.png", contour="offset:1", bleed_mm=1.0)
