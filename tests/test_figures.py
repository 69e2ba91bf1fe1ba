"""Figures for people: what is printed is what a shop would write, and it stays true."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan import figures
from nestplan.figures import Figure


def test_a_figure_is_read_with_its_unit_behind_a_space():
    assert str(Figure("1498.6", "mm")) == "1498.6 mm"


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (552, 1, "552.0"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (-0.06, 1, "-0.1"),
        (12.345, 2, "12.35"),
    ],
)
def test_a_length_has_as_many_decimals_as_asked_and_no_minus_before_zero(value, decimals, text):
    assert figures.length(value, decimals) == (text, "mm")


@pytest.mark.parametrize(
    ("value", "text"), [(4.0, "4"), (2.5, "2.5"), (0.35, "0.35"), (100.0, "100"), (-0.001, "0")]
)
def test_what_a_person_typed_comes_back_without_zeros(value, text):
    assert figures.short(value) == text


@pytest.mark.parametrize(
    ("mm", "text"), [(1640.0, "1.64"), (1640.1, "1.65"), (1630.0000000001, "1.63"), (880.0, "0.88")]
)
def test_film_is_rounded_up_to_the_centimetre(mm, text):
    """A roll that is short by a hair is short."""
    assert figures.film(mm) == (text, "m")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (42.4, "42 s"),
        (59.4, "59 s"),
        (59.5, "1:00 min"),
        (560, "9:20 min"),
        (725, "12:05 min"),
        (3599.4, "59:59 min"),
        (3599.6, "1:00 h"),
        (4037, "1:07 h"),
        (3600 * 30 + 60 * 5, "30:05 h"),
    ],
)
def test_a_time_names_its_unit_and_rounds_before_it_chooses_one(seconds, words):
    assert str(figures.duration(seconds)) == words


@given(st.integers(60, 3599))
def test_minutes_and_seconds_add_up_to_the_time(seconds):
    minutes, rest = figures.duration(seconds).figure.split(":")

    assert 60 * int(minutes) + int(rest) == seconds


@pytest.mark.parametrize(
    ("amount", "places", "text"),
    [("63.36", 2, "63.36"), ("0.125", 2, "0.13"), ("2.5", 4, "2.5000"), ("1E+3", 2, "1000.00")],
)
def test_money_is_exact_and_halves_go_up(amount, places, text):
    assert figures.money(Decimal(amount), "EUR", places) == (text, "EUR")


@pytest.mark.parametrize(("number", "words"), [(0, "0 copies"), (1, "1 copy"), (405, "405 copies")])
def test_one_copy_is_not_copies(number, words):
    assert figures.count(number, "copy", "copies") == words


@pytest.mark.parametrize(("denominator", "text"), [(20.0, "1:20"), (2.5, "1:2.5"), (1.0, "1:1")])
def test_a_scale_is_written_as_one_to_so_many(denominator, text):
    assert figures.scale(denominator) == text


def test_other_figures_carry_their_unit():
    assert str(figures.area(2_241_000.0)) == "2.24 m²"
    assert str(figures.percent(73.94)) == "73.9 %"
    assert str(figures.path(99_840.0)) == "99.8 m"


def test_the_weight_of_a_roll_agrees_with_one_worked_by_hand():
    """1.37 m x 50 m at 0.25 kg/m2 = 17.125 kg, by hand."""
    assert str(figures.mass(1.37 * 50 * 250)) == "17.1 kg"


def test_a_bound_is_said_in_words():
    """By hand: (1498.6 - 1372.6) / 1372.6 = 9.1797 %, rounded up."""
    assert (
        figures.bound_words(1498.6, 1372.6)
        == "no layout is shorter than 1372.6 mm: at most 9.2 % too long"
    )
    assert figures.bound_words(436.0, 436.0) == "proven shortest"
    assert figures.bound_words(436.0, 0.0) == "no layout is shorter than 0.0 mm"


@given(st.floats(1, 1e5), st.floats(1.001, 3))
def test_the_words_of_a_bound_never_claim_too_much(bound_mm, times_longer):
    """The bound that is printed is not above the true one, nor the gap below it."""
    length_mm = bound_mm * times_longer
    words = figures.bound_words(length_mm, bound_mm).split()
    if words[0] == "proven":
        assert length_mm - bound_mm <= 0.001 + 1e-9
        return

    assert float(words[5]) <= bound_mm + 1e-6
    assert float(words[9]) >= 100 * (length_mm - bound_mm) / bound_mm - 1e-6
