"""What the job asks for and the cut does not do is found: turns, spoiled film."""

import pytest

from nestplan.check import Kind, check_folder
from tests.check.edit import bend


def found_with(folder, change):
    """Kind and place of what is found once the job reads so."""
    bend(folder, lambda said: change(said["inputs"]))
    return [(each.kind, each.where.split(", ", 1)[-1]) for each in check_folder(folder).found]


@pytest.mark.parametrize(
    ("order", "named"),
    [
        ({"rotate": "none"}, ["berth plate, copy 2"]),
        ({"rotate": "half"}, ["berth plate, copy 2"]),
        ({"rotate": "half", "direction": "left"}, ["berth plate, copy 1"]),
        ({"rotate": "none", "direction": "right"}, ["berth plate, copy 1", "berth plate, copy 2"]),
        ({"direction": "leading"}, []),
    ],
)
def test_a_copy_at_an_angle_that_its_decal_may_not_take_is_named(folder, order, named):
    """Of the four copies the first plate lies at 0 and the second at 90 degrees."""
    found = found_with(folder, lambda read: read["job"]["decal"][0].update(order))

    assert found == [(Kind.TURN_FORBIDDEN, name) for name in named]


def test_on_film_that_shows_a_direction_every_turn_is_named(folder):
    found = found_with(folder, lambda read: read["shop"]["roll"][0].update(directional=True))

    assert {kind for kind, _ in found} == {Kind.TURN_FORBIDDEN}
    assert "berth plate, copy 2" in {name for _, name in found}


def test_a_frame_on_spoiled_film_is_named(folder):
    found = found_with(folder, lambda read: read["shop"]["roll"][0].update(avoid_m=[[0.1, 0.2]]))

    assert found == [(Kind.SPOILED_FILM, "summary.json: frame 1")]


def test_spoiled_film_beside_the_frame_is_no_finding(folder):
    spans = [[0.0, 0.01], [3.0, 3.5]]
    assert not found_with(folder, lambda read: read["shop"]["roll"][0].update(avoid_m=spans))
