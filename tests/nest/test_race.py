"""The race: more budget is never worse, and whoever stops it gets a legal nest."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import nestplan.nest.divide as divide_module
import nestplan.nest.race as race_module
from nestplan.nest import Budget
from nestplan.nest.blocks import Blocks
from nestplan.nest.divide import nest_in_frames
from nestplan.nest.race import race
from nestplan.nest.verify import verify
from tests import strategies
from tests.nest.test_blocks import pennants

EVER_MORE = (1, 40, 300)  # steps
SMALL = strategies.tasks(
    shapes=st.one_of(strategies.boxes(), strategies.rounds(), strategies.stars()),
    most_copies=9,
    turns=((0.0,), (0.0, 180.0)),
)


@pytest.fixture(scope="module", autouse=True)
def _short_starts():
    """The searches that are the same for every budget, made as short as these budgets."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(race_module, "START_STEPS", 100)
        patch.setattr(divide_module, "LONG_STEPS", 100)
        patch.setattr(divide_module, "LONG_LEAST", 2)
        patch.setattr(divide_module, "FULL_STEPS", 20)
        yield


@settings(max_examples=6)
@given(SMALL, st.integers(1, 3))
def test_a_larger_budget_never_gives_a_longer_strip(task, seed):
    lengths = [race(task, Budget(steps=n, seed=seed)).best.length_mm for n in EVER_MORE]

    assert lengths == sorted(lengths, reverse=True)


@settings(max_examples=3)
@given(SMALL, st.integers(1, 3), st.floats(1.0, 2.5))
def test_a_larger_budget_never_needs_more_frames_nor_longer_ones(task, seed, frame):
    """Frames as long as the longest copy, or up to two and a half times as long."""
    longest = max(max(s.outline.turned(a).height_mm for a in s.angles_deg) for s in task.shapes)
    costs = []
    for steps in EVER_MORE:
        budget = Budget(steps=steps, seed=seed)
        divided = nest_in_frames(task, length_most_mm=frame * longest, budget=budget)
        length = sum(strip.length_mm for strip in divided.strips)
        costs.append((len(divided.strips), length))

    assert costs == sorted(costs, reverse=True)


def test_a_larger_budget_never_makes_bands_longer():
    lengths = [Blocks()(pennants(), Budget(steps=n, seed=2)).length_mm for n in (1, 2_000)]

    assert lengths == sorted(lengths, reverse=True)


@settings(max_examples=8)
@given(SMALL, st.integers(0, 60), st.floats(1.0, 2.0))
def test_stopped_at_any_moment_the_nest_is_legal(task, moment, frame):
    longest = max(max(s.outline.turned(a).height_mm for a in s.angles_deg) for s in task.shapes)
    asked = iter(range(10**9))
    budget = Budget(steps=200, seed=1, stopped=lambda: next(asked) >= moment)

    divided = nest_in_frames(task, length_most_mm=frame * longest, budget=budget)

    total = [0] * len(task.shapes)
    for strip in divided.strips:
        counts = [int((strip.placements.shape == k).sum()) for k in range(len(task.shapes))]
        total = [one + other for one, other in zip(total, counts, strict=True)]
        broken = verify(task, strip.placements, copies=counts, length_most_mm=frame * longest)
        assert broken == ()
    assert total == [shape.copies for shape in task.shapes]
