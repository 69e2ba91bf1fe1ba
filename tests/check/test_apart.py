"""Frames that can be mistaken for each other are found, whatever the summary says of them."""

import copy
from dataclasses import replace

import numpy as np
import pytest

from nestplan.check.apart_claims import _mistaken, apart_claims
from nestplan.check.said import Said
from nestplan.files.summary import contents
from nestplan.marks import Placement
from nestplan.marks.apart import chance_mistaken
from nestplan.marks.named import named
from tests.files.handmade import a_run
from tests.marks.error_samples import ALL, model, pairs


def said_of(mistaken: float, alike: bool) -> Said:
    """The hand-made run, its second frame's marks as in the first or not."""
    run = a_run()
    sure = named("affine", pairs(6))
    count = len(run.marks.frames)
    placement = Placement(worth=(None,) * count, named=(sure,) * count, mistaken=mistaken)
    told = copy.deepcopy(contents(replace(run, marks=replace(run.marks, placement=placement)), {}))
    for frame in told["frames"]:
        for k, mark in enumerate(frame["marks"]):
            mark["y_mm"] += 0.0 if alike else 5.0 * k * k * frame["index"]
    return Said.model_validate(told)


@pytest.mark.parametrize(
    ("mistaken", "alike", "found"), [(0.0, True, 1), (0.5, True, 0), (0.5, False, 1)]
)
def test_the_chance_of_a_mistake_is_worked_out_anew(mistaken, alike, found):
    claims = apart_claims(said_of(mistaken, alike))

    assert len(claims[0].against) == found


def test_two_ways_to_the_chance_agree():
    told = model("affine", **ALL)
    right = pairs(8) - pairs(8).mean(axis=0)
    other = right.copy()
    other[3, 1] += 1.0

    found = _mistaken(told, right, other)

    assert found == pytest.approx(chance_mistaken(told, right, other), rel=1e-6)
    assert np.isfinite(found)
