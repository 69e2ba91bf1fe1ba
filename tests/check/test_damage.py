"""A plan damaged in one place is caught, and the finding names the place.

Every kind of damage is done to the print, to the cut and to both, once with a summary
that still tells the truth and once with one that was bent to agree.
"""

import re
import shutil

import pytest

from nestplan.check import check_folder
from tests.check.damage import KINDS, TARGETS, damage

CASES = [
    (kind, target, bend)
    for kind in KINDS
    for target in (("pdf",) if kind == "art" else TARGETS)
    for bend in (False, True)
]
DISTANCE = range(301, 307)  # these findings name the neighbour too
COPY = re.compile(r"(?:berth plate|club burgee), copy \d+")


@pytest.mark.parametrize(("kind", "target", "bend"), CASES)
def test_a_damage_is_caught_and_its_element_named(folder, kind, target, bend):
    hurt = damage(folder, kind, target, bend=bend, seed=len(kind) + bend)

    found = check_folder(folder).found

    assert any(name in each.where or name in each.found for each in found for name in hurt.names)
    if kind != "sheet":  # a whole sheet hurts all its copies
        accused = {
            copy
            for each in found
            if each.kind.number not in DISTANCE
            for copy in COPY.findall(each.where)
        }
        assert accused - {c for c in accused if any(name in c for name in hurt.names)} == set()


@pytest.mark.parametrize("kind", ["moved", "mark", "swapped", "hole"])
def test_a_damage_in_one_of_two_frames_is_found_in_that_frame(two_frames, tmp_path, kind):
    folder = shutil.copytree(two_frames, tmp_path / "plan")
    hurt = damage(folder, kind, "svg", bend=False, seed=3)

    found = check_folder(folder).found

    cuts = {each.where.split(",")[0] for each in found if each.where.startswith("cut-")}
    assert cuts == set(hurt.files)


def test_the_same_seed_does_the_same_damage(four_copies, tmp_path):
    folders = [shutil.copytree(four_copies, tmp_path / name) for name in "ab"]
    hurts = [damage(folder, "moved", "svg", bend=True, seed=5) for folder in folders]

    assert hurts[0] == hurts[1]
    assert (folders[0] / "cut-01.svg").read_bytes() == (folders[1] / "cut-01.svg").read_bytes()
