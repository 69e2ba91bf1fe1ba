"""Spoiled film: where it lies now, however much was used, cut off, given back or counted."""

import hypothesis.strategies as st
import pytest
from hypothesis import given

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.stock import enter, runs, shelf
from nestplan.stock.book import Book, Movement, Piece, Span
from tests.stock.shop import AT, on_shelf, roll, run_of, spoilt_m

MOVES = st.lists(
    st.tuples(st.sampled_from(["use", "back", "less", "more"]), st.integers(1, 4_000)), max_size=8
)


@given(MOVES, st.integers(0, 9_000), st.integers(1, 900))
def test_spoiled_film_lies_within_what_is_kept_clear_by_either_reading_of_a_count(
    moves, from_um, long_um
):
    """The roll as it may truly be: each count differs because film went unbooked at the leading
    end (the spot comes nearer) or because the core's end was misjudged (it stays)."""
    left, movements = 10_000, [_move(1, "add", "supplier", "P1", 10_000)]
    spots = {from_um}
    for kind, length in moves:
        no = len(movements) + 1
        if kind in ("use", "less"):
            length = min(length, left)
        sign = 1 if kind in ("back", "more") else -1
        ends = {
            "use": ("P1", "hand"),
            "back": ("run", "P1"),
            "less": ("P1", "difference"),
            "more": ("difference", "P1"),
        }[kind]
        booked = "count" if kind in ("less", "more") else kind
        movements.append(_move(no, booked, *ends, length))
        left += sign * length
        moved = {spot + sign * length for spot in spots}
        spots = moved | spots if booked == "count" else moved
    span = Span(no=1, piece="P1", kind="defect", from_um=from_um, to_um=from_um + long_um, after=1)
    piece = Piece(id="P1", film="f", width_um=1)

    found = shelf(Book(pieces=[piece], movements=movements, spans=[span], reservations=[]))["P1"]

    assert found.left_um == left
    for spot in spots:
        low, high = max(spot, 0), min(spot + long_um, left)
        if low < high:
            assert any(each.from_um <= low and each.to_um >= high for each in found.spoilt)


@given(st.integers(0, 9_000), st.integers(1, 900), st.lists(st.integers(1, 1_500), max_size=6))
def test_film_that_is_only_used_leaves_the_spot_just_where_it_is(from_um, long_um, uses):
    used = sum(uses)
    movements = [_move(1, "add", "supplier", "P1", 10_000)]
    movements += [_move(k, "use", "P1", "hand", um) for k, um in enumerate(uses, start=2)]
    span = Span(no=1, piece="P1", kind="splice", from_um=from_um, to_um=from_um + long_um, after=1)
    book = Book(
        pieces=[Piece(id="P1", film="f", width_um=1)],
        movements=movements,
        spans=[span],
        reservations=[],
    )

    found = shelf(book)["P1"].spoilt

    if from_um + long_um <= used or from_um >= 10_000:
        assert found == ()
    else:
        assert [(each.from_um, each.to_um) for each in found] == [
            (max(0, from_um - used), from_um + long_um - used)
        ]


def _move(no: int, kind: str, source: str, target: str, length_um: int) -> Movement:
    return Movement(no=no, at=AT, kind=kind, source=source, target=target, length_um=length_um)


def test_a_remnant_takes_the_spoiled_film_on_it_along(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("defect", 4.0, 4.5), ("defect", 4.8, 5.6), ("splice", 12.0, 12.0))
    enter.cut_off(path, "P1", 5, at=AT)

    assert spoilt_m(on_shelf(path, "P2")) == [(4.0, 4.5), (4.8, 5.0)]
    assert spoilt_m(on_shelf(path, "P1")) == [(0.0, pytest.approx(0.6)), (6.995, 7.005)]


def test_what_is_stated_anew_after_a_count_is_exact_again(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("defect", 4.0, 4.5))
    enter.count(path, "P1", 19.8, reason="", at=AT)
    assert spoilt_m(on_shelf(path)) == [(3.8, 4.5)]

    enter.clear(path, "P1", [1])
    enter.mark(path, "P1", [("defect", 3.9, 4.4)])

    assert spoilt_m(on_shelf(path)) == [(3.9, 4.4)]


def test_a_frame_never_lies_on_film_that_moved_under_it_since_it_was_planned(tmp_path):
    """Planned for the piece as it was; another run has been booked since."""
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("splice", 5.0, 5.0))
    run = run_of("aa", 3, frames_m=[(0.2, 1.4), (1.5, 2.9)])
    runs.reserve(path, run, at=AT)
    enter.use(path, "P1", 3, reason="test print", at=AT)

    with pytest.raises(Fault, match="frame 2 would lie on the splice of P1") as caught:
        runs.commit(path, run, at=AT)
    assert caught.value.code == OUT_OF_REACH
    assert on_shelf(path).left_um == 17_000_000

    runs.commit(path, run, at=AT, took_mm=3_000)  # it has been printed all the same
    assert on_shelf(path).left_um == 14_000_000


def test_a_run_is_held_against_the_film_behind_what_others_reserved(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("splice", 5.0, 5.0))
    runs.reserve(path, run_of("aa", 4, frames_m=[(0.2, 3.9)]), at=AT)

    with pytest.raises(Fault, match="frame 1 would lie on the splice"):
        runs.reserve(path, run_of("bb", 4, frames_m=[(0.2, 3.9)]), at=AT)
    runs.reserve(path, run_of("bb", 4, frames_m=[(1.1, 3.9)]), at=AT)


@pytest.mark.parametrize(
    "stretch",
    [("defect", 4.5, 4.2), ("defect", -1, 2), ("splice", 25.0, 25.0), ("defect", 4.2, 4.2)],
)
def test_stretches_that_cannot_be_are_refused(tmp_path, stretch):
    path = tmp_path / "stock.sqlite"
    roll(path, 20)

    with pytest.raises(Fault):
        enter.mark(path, "P1", [stretch])
    assert on_shelf(path).spoilt == ()


def test_overlapping_stretches_are_one_to_avoid(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("defect", 4.0, 4.5), ("defect", 4.4, 5.0), ("splice", 9.0, 9.0))

    assert on_shelf(path).avoid_m() == [[4.0, 5.0], [8.995, 9.005]]
    assert on_shelf(path).avoid_m(4_200_000) == [[0.0, 0.8], [4.795, 4.805]]
