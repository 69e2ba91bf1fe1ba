"""Damaged files: whatever a bad disk or a bad person does to them, a Fault is the worst."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.faults import Fault, Faults
from tests.artwork.handmade import disc, loaded, png, svg
from tests.artwork.test_picture import ALL_VECTOR
from tests.artwork.test_silhouette import FOLLOWED

SVGS = [svg(ALL_VECTOR).encode(), *(svg(body).encode() for body in FOLLOWED.values())]
PNGS = [png(disc(20, 5), dpi=(300, 300)), png(disc(9)[..., :3])]
WORDS = [b"0", b"-1", b"1e9", b"nan", b"%", b"url(#a)", b"#s", b"none", b"", b"inherit", b"<", b"z"]
damage = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 9), st.sampled_from(WORDS) | st.binary(max_size=4)),
    min_size=1,
    max_size=4,
)


def damaged(data: bytes, changes) -> bytes:
    for where, length, put in changes:
        at = int(where * len(data))
        data = data[:at] + put + data[at + length :]
    return data


@pytest.mark.parametrize("contour", ["outline", "layer:c"])
@given(data=st.sampled_from(SVGS), changes=damage)
def test_a_damaged_drawing_gives_a_decal_or_a_fault(contour, data, changes):
    with tempfile.TemporaryDirectory() as folder:
        try:
            loaded(Path(folder), damaged(data, changes), contour=contour, width_mm=50)
        except (Fault, Faults) as trouble:
            assert str(trouble)


@given(data=st.sampled_from(PNGS), changes=damage)
def test_a_damaged_picture_gives_a_decal_or_a_fault(data, changes):
    with tempfile.TemporaryDirectory() as folder:
        try:
            loaded(Path(folder), damaged(data, changes), "plate.png", contour="page", width_mm=50)
        except (Fault, Faults) as trouble:
            assert str(trouble)
