"""Damage of every family is found and its place is named; tests/bench/damage.py does them all."""

import shutil

import pytest

from nestplan.check import check_folder
from tests.check.harms import HARMS

FEW = (
    "art in print",
    "print: encrypted",
    "print: a decal's bleed painted white",
    "print: a decal's picture replaced by a coarse one",
    "print: a scale bar 99.8 mm long",
    "proof: a copy taken from its drawings",
    "cut: a ring twice",
    "cut: a corner dented by 0.3 mm",
    "DXF: in inches",
    "DXF: a ring moved by 0.2 mm",
    "DXF: a ring bulging",
    "DXF: two rings in another order",
    "tables: a copy's place",
    "tables: a line lost",
    "summary: a wider gutter than was kept",
    "folder: a table gone, and no longer listed",
    "moved in print, cut, DXF and tables, summary bent",
)


@pytest.mark.parametrize("harm", [each for each in HARMS if each.name in FEW], ids=lambda h: h.name)
def test_a_harm_is_found_and_its_element_named(two_frames, tmp_path, harm):
    folder = shutil.copytree(two_frames, tmp_path / "plan")

    words = harm.do(folder, 2)

    told = [f"{each.where} | {each.found}" for each in check_folder(folder).found]
    assert any(word in text for word in words for text in told)


def test_the_kinds_have_names_of_their_own_and_a_third_bends_the_summary():
    assert {each.name for each in HARMS} >= set(FEW)
    assert len({each.name for each in HARMS}) == len(HARMS) >= 60
    assert 3 * sum(each.bent for each in HARMS) >= len(HARMS) - 6
