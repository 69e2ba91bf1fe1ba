"""What the job asks for and the cut does not do is found: turns, bands, spoiled film."""

import shutil

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


def test_copies_beside_a_decal_that_is_kept_together_are_named(folder):
    """Plates and burgees stand side by side in two rows."""
    found = found_with(folder, lambda read: read["job"]["decal"][0].update(keep_together=True))

    assert found == [(Kind.NOT_TOGETHER, f"club burgee, copy {k}") for k in (1, 2)]


def test_a_decal_between_two_lengths_of_a_band_is_named(two_frames, tmp_path):
    """In the second frame the plate and the burgee stand side by side too."""
    plan = shutil.copytree(two_frames, tmp_path / "plan")

    found = found_with(plan, lambda read: read["job"]["decal"][1].update(keep_together=True))

    assert found == [(Kind.NOT_TOGETHER, f"berth plate, copy {k}") for k in (1, 2, 3, 4)]


def test_a_frame_on_spoiled_film_is_named(folder):
    found = found_with(folder, lambda read: read["shop"]["roll"][0].update(avoid_m=[[0.1, 0.2]]))

    assert found == [(Kind.SPOILED_FILM, "summary.json: frame 1")]


def test_spoiled_film_beside_the_frame_is_no_finding(folder):
    spans = [[0.0, 0.01], [3.0, 3.5]]
    assert not found_with(folder, lambda read: read["shop"]["roll"][0].update(avoid_m=spans))


def test_copies_that_nobody_ordered_are_named_unless_they_fill_the_last_frame(folder):
    def ordered(said):
        said["decals"][1]["ordered"] = said["inputs"]["job"]["decal"][1]["quantity"] = 1
        said["cost"].update(per_decal="6.6667")
        said["cost"]["per_decal_by_name"] = {"berth plate": "6.6667", "club burgee": "6.6667"}

    bend(folder, ordered)
    found = check_folder(folder).found
    filled = found_with(folder, lambda read: read["job"].update(fill_with="club burgee"))

    assert [(each.kind, each.where) for each in found] == [
        (Kind.NOT_ORDERED, "summary.json: frame 1, club burgee, copy 2")
    ]
    assert filled == []
