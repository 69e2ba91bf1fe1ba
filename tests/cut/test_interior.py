"""The solver behind the travel bound, against another one (scipy's simplex) and by duality."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.sparse import csr_array

from nestplan.cut.interior import least


@settings(max_examples=20)
@given(st.integers(0, 2**31))
def test_it_finds_the_least_and_prices_that_prove_it(seed):
    rng = np.random.default_rng(seed)
    cost = rng.uniform(0.5, 2.0, 12)
    equal, most = rng.uniform(0, 1, (3, 12)), rng.uniform(-1, 1, (4, 12))
    point = rng.uniform(0, 1, 12)
    most -= np.maximum(most @ point, 0.0)[:, None] / point.sum()  # the point keeps every row
    sums = equal @ point

    answer = least(cost, csr_array(equal), sums, csr_array(most))
    assert answer is not None
    value, at, price, cuts = answer

    other = linprog(cost, A_eq=equal, b_eq=sums, A_ub=most, b_ub=np.zeros(4), method="highs-ds")
    assert value == pytest.approx(other.fun, rel=1e-4)
    assert cost @ at == pytest.approx(value, rel=1e-4)
    assert price @ sums == pytest.approx(value, rel=1e-4)  # strong duality
    assert (cuts >= 0).all()
    assert (cost - price @ equal + cuts @ most > -1e-4).all()


def test_it_gives_up_on_what_has_no_solution():
    assert least(np.ones(2), csr_array([[1.0, 1.0]]), np.array([-1.0]), csr_array((0, 2))) is None
