"""A plan damaged in one place is caught, and the finding names the place.

Every kind of damage is done to the print, to the cut and to both, once with a summary
that still tells the truth and once with one that was bent to agree.
"""

import re
import shutil

import pytest

from nestplan.check import Finding, Kind, check_folder
from tests.check.damage import KINDS, TARGETS, damage

CASES = [
    (kind, target, bend)
    for kind in KINDS
    for target in (("pdf",) if kind == "art" else TARGETS)
    for bend in (False, True)
]
DISTANCE = range(301, 307)  # these findings name the neighbour too
COPY = re.compile(r"(?:berth plate|club burgee), copy \d+")

# what a damage of one file is called when the summary tells the truth; where print, cut and
# summary agree in the damage, only the proof still shows what was meant
CALLED = {
    ("moved", "svg"): (Kind.CUT_MOVED, "moved by 1.00 mm"),
    ("turned", "svg"): (Kind.CUT_TURNED, "turned by 1.00°"),
    ("scale", "svg"): (Kind.CUT_SIZE, "0.50 % too large"),
    ("copy", "svg"): (Kind.CUT_MISSING, "no ring"),
    ("hole", "svg"): (Kind.HOLE_LOST, "no hole"),
    ("mark", "svg"): (Kind.MARK_MISSING, "nothing"),
    ("sheet", "svg"): (Kind.CUT_SIZE, "all together 0.50 % too large"),
    ("swapped", "svg"): (Kind.CUT_SWAPPED, "in the place of "),
    ("moved", "pdf"): (Kind.PRINT_MOVED, "moved by 1.00 mm"),
    ("turned", "pdf"): (Kind.PRINT_TURNED, "turned by 1.00°"),
    ("scale", "pdf"): (Kind.PRINT_SIZE, "0.50 % too large"),
    ("copy", "pdf"): (Kind.PRINT_MISSING, "no print"),
    ("hole", "pdf"): (Kind.PRINT_HOLE, "no hole in the print"),
    ("mark", "pdf"): (Kind.PRINTED_MARK_MISSING, "nothing"),
    ("sheet", "pdf"): (Kind.PRINT_SIZE, "all together 0.50 % too large"),
    ("swapped", "pdf"): (Kind.PRINT_SWAPPED, "the print of "),
    ("art", "pdf"): (Kind.PROOF_ART, "other art on "),
    ("moved", "proof"): (Kind.PROOF_PLACE, "moved by 1.00 mm"),
    ("turned", "proof"): (Kind.PROOF_PLACE, "turned by 1.00°"),
    ("scale", "proof"): (Kind.PROOF_PLACE, "0.4"),  # less than 0.50 %: the bleed did not grow
    ("copy", "proof"): (Kind.PROOF_PLACE, "a copy at x "),
    ("hole", "proof"): (Kind.PROOF_OUTLINE, "1 hole"),
    ("mark", "proof"): (Kind.PROOF_MARK, "a mark at x "),
}
BESIDE = {Kind.CUT_LAYER, Kind.BAR_WRONG, Kind.PROOF_ART}  # true as well, and said beside it


@pytest.mark.parametrize(("kind", "target", "bend"), CASES)
def test_a_damage_is_caught_and_its_element_named(folder, kind, target, bend):
    hurt = damage(folder, kind, target, bend=bend, seed=len(kind) + bend)

    found = check_folder(folder).found

    assert any(name in each.where or name in each.found for each in found for name in hurt.names)
    innocent = {c for c in accused(found) if not any(name in c for name in hurt.names)}
    assert kind == "sheet" or innocent == set()  # a whole sheet hurts all its copies
    witness = "proof" if bend and target == "both" else None if bend else target
    if (kind, witness) in CALLED:
        called(found, *CALLED[kind, witness])


def accused(found: tuple[Finding, ...]) -> set[str]:
    """Every copy that a finding names; a distance has two."""
    return {
        copy
        for each in found
        if each.kind.number not in DISTANCE
        for copy in COPY.findall(each.where)
    }


def called(found: tuple[Finding, ...], kind: Kind, words: str) -> None:
    """Of what one file was read for, nothing but this kind is found, in these words."""
    same = [each for each in found if each.kind.number // 100 == kind.number // 100]

    assert kind in {each.kind for each in same}
    assert {each.kind for each in same} - {kind} <= BESIDE
    assert all(each.found.startswith(words) for each in same if each.kind is kind)


@pytest.mark.parametrize("kind", ["moved", "mark", "swapped", "hole"])
def test_a_damage_in_one_of_two_frames_is_found_in_that_frame(two_frames, tmp_path, kind):
    folder = shutil.copytree(two_frames, tmp_path / "plan")
    hurt = damage(folder, kind, "svg", bend=False, seed=3)

    found = check_folder(folder).found

    cuts = {each.where.split(".")[0] for each in found if each.where.startswith("cut-")}
    assert cuts == {file.removesuffix(".svg") for file in hurt.files}


def test_the_same_seed_does_the_same_damage(four_copies, tmp_path):
    folders = [shutil.copytree(four_copies, tmp_path / name) for name in "ab"]
    hurts = [damage(folder, "moved", "svg", bend=True, seed=5) for folder in folders]

    assert hurts[0] == hurts[1]
    assert (folders[0] / "cut-01.svg").read_bytes() == (folders[1] / "cut-01.svg").read_bytes()
