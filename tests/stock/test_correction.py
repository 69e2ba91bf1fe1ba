"""What runs teach the next estimate, against published tables and worked examples."""

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

from nestplan.stock import corrections, enter, read_outcomes, runs
from nestplan.stock.correction import correction
from nestplan.stock.history import Expected
from nestplan.stock.outliers import critical, outliers
from nestplan.stock.runs import PlanRun, Wanted
from tests.stock.shop import AT, roll

# Rosner 1983; as worked in the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.3
# (from memory): three outliers at 5 %, critical values 3.158, 3.151, 3.143.
ROSNER = [
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56,
    1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10,
    2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92,
    2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
]  # fmt: skip


def test_the_handbook_s_outliers_are_found():
    assert [ROSNER[at] for at in outliers(ROSNER, most=10, alpha=0.05)] == [5.34, 5.42, 6.01]
    assert [critical(n, 0.05) for n in (54, 53, 52)] == pytest.approx(
        [3.158, 3.151, 3.143], abs=1e-3
    )


def test_the_interval_is_that_of_one_further_value():
    """t(0.975, 9) = 2.262, NIST/SEMATECH e-Handbook 1.3.6.7.2 (from memory)."""
    logs = np.array([-0.1, -0.08, -0.02, 0.0, 0.01, 0.03, 0.04, 0.06, 0.09, 0.12])
    found = correction([100.0] * 10, (100 * np.exp(logs)).tolist(), level=0.95)

    half = 2.262 * logs.std(ddof=1) * np.sqrt(1 + 1 / 10)
    assert np.log(found.factor) == pytest.approx(logs.mean())
    assert np.log(found.high) == pytest.approx(logs.mean() + half, abs=1e-4)
    assert np.log(found.low) == pytest.approx(logs.mean() - half, abs=1e-4)
    assert (found.jobs, found.set_aside) == (10, 0)


@pytest.mark.parametrize("runs_known", [3, 5, 12])
def test_nine_of_ten_next_runs_lie_within_it(runs_known):
    rng = np.random.default_rng(7)
    within = 0
    for _ in range(4_000):
        *took, following = (60 * 1.15 * np.exp(rng.normal(0, 0.1, runs_known + 1))).tolist()
        found = correction([60.0] * runs_known, took)
        within += found.low <= following / 60.0 <= found.high

    assert within / 4_000 == pytest.approx(0.90, abs=0.02)


def test_a_stopwatch_left_running_is_set_aside():
    expected = [100.0, 250.0, 80.0, 400.0, 150.0, 90.0]
    took = [110.0, 270.0, 90.0, 430.0, 165.0, 900.0]
    found = correction(expected, took)

    assert (found.jobs, found.set_aside) == (5, 1)
    assert 1.07 < found.factor < 1.13
    assert found.high < 1.25


@pytest.mark.parametrize("known", [0, 1, 2])
def test_of_too_few_runs_nothing_is_claimed(known):
    found = correction([10.0] * known, [12.0] * known)

    assert (found.factor, found.known, found.jobs) == (1.0, False, known)


@given(
    st.lists(st.tuples(st.floats(1, 1e6), st.floats(0.5, 2.0)), min_size=3, max_size=12),
    st.floats(0.1, 10),
)
def test_the_unit_does_not_matter_and_the_interval_holds_the_middle(pairs, unit):
    expected = [e for e, _ in pairs]
    took = [e * ratio for e, ratio in pairs]
    one = correction(expected, took)
    other = correction([unit * e for e in expected], [unit * t for t in took])

    assert other.factor == pytest.approx(one.factor, rel=1e-9)
    assert one.low <= one.factor <= one.high


def test_what_runs_were_expected_to_take_and_took_is_kept_by_stage(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 100)
    for k in range(4):
        run = PlanRun(
            plan=f"{k:012x}",
            job=f"job {k}",
            place=f"/{k}",
            wanted=(Wanted(piece="P1", length_um=2_000_000),),
            expected=(
                Expected(stage="film", amount=2_000.0, setup="pair", film="white gloss"),
                Expected(stage="cut", amount=600.0, setup="pair", film="white gloss"),
            ),
        )
        runs.commit(path, run, at=AT, took_mm=2_100.0 if k else None)
        runs.set_took(path, run.plan, {"cut": 500.0}, at=AT)
        runs.set_took(path, run.plan, {"cut": 660.0 + k}, at=AT)  # stated again: the new figure

    outcomes = read_outcomes(path)
    found = corrections(outcomes, setup="pair")

    assert [o.took for o in outcomes if o.stage == "cut"] == [660.0, 661.0, 662.0, 663.0]
    assert (found["film"].jobs, found["cut"].jobs, found["print"].jobs) == (3, 4, 0)
    assert found["film"].factor == pytest.approx(1.05)
    assert found["cut"].factor == pytest.approx(1.1025, abs=1e-3)
    assert corrections(outcomes, setup="combined")["cut"].jobs == 0
    enter.count(path, "P1", 90.0, reason="", at=AT)  # and the book goes on
