"""Overs against binomial tables, another library, every smaller choice, and simulated runs.

Check values: 219 for 200 good with 95 % at a yield of 0.94, and the acceptance chances of
sampling plans (n 50 c 1, n 80 c 2, n 125 c 3; ISO 2859-1) are binomial sums worked out apart
from this code. P(X <= 2) = 0.6778 and P(X <= 4) = 0.9672 for n = 10, p = 0.2 stand in every
printed binomial table, for one M. R. Spiegel, Theory and Problems of Statistics (1961),
Appendix; quoted from memory.
"""

from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from nestplan.cost import Spoilage, by_percent, dealt, enough, least_overs
from nestplan.cost.overs import _enough


def spoiled(copy=0.0, frame=0.0, run=0.0, certainty=0.95):
    return Spoilage(copy=copy, frame=frame, run=run, certainty=certainty)


def simulated(ordered, frames, spoilage, *, runs, rng):
    """The share of runs that had enough good copies, copy by copy and frame by frame."""
    good = np.zeros((runs, len(ordered)), dtype=np.int64)
    for frame in frames:
        sound = rng.random(runs) >= spoilage.frame
        for k, copies in enumerate(frame):
            good[:, k] += sound * rng.binomial(copies, 1 - spoilage.copy, runs)
    fails = rng.random(runs) < spoilage.run
    return float(((good >= np.array(ordered)).all(axis=1) & ~fails).mean())


def test_two_hundred_good_ones_at_a_yield_of_94_percent():
    assert least_overs([200], spoiled(0.06)).extra == (19,)


@pytest.mark.parametrize(
    ("n", "c", "accepted"),
    [
        (50, 1, (0.9739, 0.9106, 0.7358, 0.2794, 0.0827)),
        (80, 2, (0.9923, 0.9534, 0.7844, 0.2306, 0.0404)),
        (125, 3, (0.9963, 0.9626, 0.7587, 0.1238, 0.0083)),
    ],
)
def test_the_chance_of_at_most_c_bad_ones_as_in_sampling_tables(n, c, accepted):
    for share, chance in zip((0.005, 0.01, 0.02, 0.05, 0.08), accepted, strict=True):
        assert _enough(n - c, n, share) == pytest.approx(chance, abs=5e-5)


@pytest.mark.parametrize(("bad", "chance"), [(2, 0.6778), (4, 0.9672)])
def test_the_printed_binomial_table(bad, chance):
    assert _enough(10 - bad, 10, 0.2) == pytest.approx(chance, abs=5e-5)


@given(st.integers(1, 400), st.integers(0, 60), st.floats(0.001, 0.5))
def test_the_tail_is_the_library_s(needed, more, share):
    ours = _enough(needed, needed + more, share)

    assert ours == pytest.approx(binom.sf(needed - 1, needed + more, 1 - share), abs=1e-12)


@given(st.integers(1, 300), st.floats(0.0, 0.3), st.sampled_from([0.5, 0.9, 0.95, 0.999]))
def test_one_copy_fewer_is_not_enough(ordered, share, certainty):
    found = least_overs([ordered], spoiled(share, certainty=certainty))
    made = ordered + found.extra[0]

    assert binom.sf(ordered - 1, made, 1 - share) >= certainty * (1 - 1e-12)
    if found.extra[0]:
        assert binom.sf(ordered - 1, made - 1, 1 - share) < certainty


@pytest.mark.parametrize("ordered", [(3, 8), (1, 1, 5), (12, 2, 7)])
@pytest.mark.parametrize("share", [0.05, 0.2])
def test_no_other_choice_of_fewer_copies_is_enough(ordered, share):
    found = least_overs(ordered, spoiled(share, run=0.01))
    total = sum(found.extra)

    assert found.chance >= 0.95
    for extra in product(*(range(total) for _ in ordered)):
        if sum(extra) == total - 1:
            assert enough(ordered, dealt(ordered, extra, 1), spoiled(share, run=0.01)) < 0.95


@settings(max_examples=20, deadline=None)
@given(
    st.integers(5, 120),
    st.floats(0.0, 0.1),
    st.floats(0.005, 0.08),
    st.integers(2, 6),
)
def test_lost_frames_with_one_decal_no_fewer_is_enough(ordered, share, frame, frames):
    lost = spoiled(share, frame)
    found = least_overs([ordered], lost, frames)

    assert found.wanted
    assert found.chance >= 0.95
    if found.extra[0]:
        less = (found.extra[0] - 1,)
        assert enough([ordered], dealt([ordered], less, frames), lost) < 0.95


def test_one_frame_of_two_is_lost_by_hand():
    """Each frame is sound with 0.9. 10 of 20 on each: enough when both are sound, 0.81, and each
    10 good; with 20 on each, one sound frame is enough: 0.99."""
    half = [(10,), (10,)]
    whole = [(20,), (20,)]

    assert enough([20], half, spoiled(frame=0.1)) == pytest.approx(0.81)
    assert enough([20], whole, spoiled(frame=0.1)) == pytest.approx(0.99)
    assert enough([20], whole, spoiled(frame=0.1, run=0.05)) == pytest.approx(0.99 * 0.95)
    assert least_overs([20], spoiled(frame=0.1), 2).extra == (20,)


def test_a_run_that_fails_too_often_is_said():
    found = least_overs([100], spoiled(0.02, run=0.1))

    assert not found.wanted
    assert found.chance < 0.9


def test_a_hundred_thousand_simulated_runs_agree():
    """Within four standard errors, 0.3 % here."""
    rng = np.random.default_rng(20270514)
    for ordered, lost, frames in (
        ([200], spoiled(0.06), 1),
        ([40, 25, 12], spoiled(0.03, run=0.02), 1),
        ([40, 25, 12], spoiled(0.03, 0.02, 0.01), 4),
    ):
        found = least_overs(ordered, lost, frames)
        laid = dealt(ordered, found.extra, frames)
        runs = 100_000
        share = simulated(ordered, laid, lost, runs=runs, rng=rng)
        error = (found.chance * (1 - found.chance) / runs) ** 0.5

        assert share == pytest.approx(found.chance, abs=4 * error)
        assert found.chance >= 0.95


def test_a_percentage_is_rounded_up():
    assert by_percent([96, 1, 200], Decimal("2.5")) == (3, 1, 5)
    assert by_percent([100], Decimal(0)) == (0,)
