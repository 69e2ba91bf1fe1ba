"""The book as a ledger: whatever is booked in whatever order, every metre is accounted for."""

import tempfile
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.stock import enter, open_book, runs
from nestplan.stock.audit import audit
from nestplan.stock.book import um_of_m
from nestplan.stock.runs import LostCopy
from nestplan.stock.shelf import shelf
from tests.stock.shop import AT, FILM, on_shelf, roll, run_of

LENGTHS_M = st.integers(1, 30_000_000).map(lambda um: um / 1e6)


class Ledger(RuleBasedStateMachine):
    """Held against a model that only adds and subtracts."""

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "stock.sqlite"
        self.left: dict[str, int] = {}
        self.held: dict[str, tuple[str, int]] = {}  # by plan
        self.used: dict[str, int] = {}  # by plan: run, less what came back
        self.lost: dict[str, int] = {}
        self.plans = 0

    def teardown(self):
        self.folder.cleanup()

    def some_piece(self, data) -> str:
        return data.draw(st.sampled_from(sorted(self.left)))

    def free(self, piece: str) -> int:
        return self.left[piece] - sum(um for name, um in self.held.values() if name == piece)

    @rule(length_m=LENGTHS_M)
    def a_roll_comes(self, length_m):
        name = roll(self.path, length_m)
        assert name not in self.left
        self.left[name] = um_of_m(length_m)

    @precondition(lambda self: self.left)
    @rule(data=st.data(), length_m=LENGTHS_M, scrap=st.booleans())
    def film_is_taken(self, data, length_m, scrap):
        piece = self.some_piece(data)
        take = enter.scrap if scrap else enter.use
        if um_of_m(length_m) > self.left[piece]:
            with pytest.raises(Fault, match="are left"):
                take(self.path, piece, length_m, reason="", at=AT)
            return
        take(self.path, piece, length_m, reason="", at=AT)
        self.left[piece] -= um_of_m(length_m)

    @precondition(lambda self: self.left)
    @rule(data=st.data(), length_m=LENGTHS_M)
    def a_piece_is_counted(self, data, length_m):
        piece = self.some_piece(data)
        _, more = enter.count(self.path, piece, length_m, reason="", at=AT)
        assert more == um_of_m(length_m) - self.left[piece]
        self.left[piece] = um_of_m(length_m)

    @precondition(lambda self: self.left)
    @rule(data=st.data(), length_m=LENGTHS_M)
    def a_remnant_is_cut_off(self, data, length_m):
        piece = self.some_piece(data)
        if um_of_m(length_m) > self.left[piece]:
            with pytest.raises(Fault, match="are left"):
                enter.cut_off(self.path, piece, length_m, at=AT)
            return
        name, _ = enter.cut_off(self.path, piece, length_m, at=AT)
        self.left[piece] -= um_of_m(length_m)
        self.left[name] = um_of_m(length_m)

    @precondition(lambda self: self.left)
    @rule(data=st.data(), length_m=LENGTHS_M)
    def a_plan_reserves(self, data, length_m):
        piece = self.some_piece(data)
        self.plans += 1
        plan = f"{self.plans:012x}"
        if um_of_m(length_m) > self.free(piece):
            with pytest.raises(Fault, match="are wanted"):
                runs.reserve(self.path, run_of(plan, length_m, piece), at=AT)
            return
        runs.reserve(self.path, run_of(plan, length_m, piece), at=AT)
        self.held[plan] = (piece, um_of_m(length_m))

    @precondition(lambda self: self.held)
    @rule(data=st.data())
    def a_plan_is_given_up(self, data):
        plan = data.draw(st.sampled_from(sorted(self.held)))
        runs.release(self.path, plan)
        del self.held[plan]

    @precondition(lambda self: self.held)
    @rule(data=st.data())
    def a_plan_is_booked(self, data):
        plan = data.draw(st.sampled_from(sorted(self.held)))
        piece, length = self.held[plan]
        run = run_of(plan, length / 1e6, piece)
        if self.free(piece) < 0:  # this plan or another would be short
            with pytest.raises(Fault, match=r"by the book|are wanted"):
                runs.commit(self.path, run, at=AT)
            return
        assert not runs.commit(self.path, run, at=AT).before
        del self.held[plan]
        self.left[piece] -= length
        self.used[plan] = length

    @precondition(lambda self: self.used)
    @rule(data=st.data())
    def a_booked_plan_is_booked_again(self, data):
        plan = data.draw(st.sampled_from(sorted(self.used)))
        assert runs.commit(self.path, run_of(plan, 1.0), at=AT).before

    @precondition(lambda self: self.used)
    @rule(data=st.data(), share=st.integers(0, 10**7), number=st.integers(1, 3))
    def a_copy_is_lost(self, data, share, number):
        plan = data.draw(st.sampled_from(sorted(self.used)))
        copy = LostCopy(decal="gull", copy=number, reason="edge lifted", share_um=share)
        fresh, gone = runs.lose(self.path, plan, [copy], at=AT)
        self.lost[plan] = self.lost.get(plan, 0) + gone
        assert gone <= (share if fresh else 0)
        assert self.lost[plan] <= self.used[plan]
        again = runs.lose(self.path, plan, [copy], at=AT)
        assert again == ((), 0)

    @invariant()
    def what_is_left_is_the_sum_of_its_movements_and_never_below_nothing(self):
        if not self.left:
            return
        book = open_book(self.path)
        known = shelf(book)
        assert list(audit(book)) == []
        assert {name: each.left_um for name, each in known.items()} == self.left
        assert {name: each.free_um for name, each in known.items()} == {
            name: self.free(name) for name in self.left
        }
        assert all(each >= 0 for each in self.left.values())

    @invariant()
    def what_came_is_on_the_shelf_or_was_used_lost_thrown_away_or_counted_off(self):
        if not self.left:
            return
        accounts: dict[str, int] = {}
        for each in open_book(self.path).movements:
            accounts[each.source] = accounts.get(each.source, 0) - each.length_um
            accounts[each.target] = accounts.get(each.target, 0) + each.length_um
        assert sum(accounts.values()) == 0
        assert accounts.get("lost", 0) == sum(self.lost.values())
        assert accounts.get("run", 0) == sum(self.used.values()) - sum(self.lost.values())


TestLedger = Ledger.TestCase
TestLedger.settings = settings(max_examples=8, stateful_step_count=20)


def test_two_runs_of_one_plan_take_one_length(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    run = run_of("aa", 3)
    runs.reserve(path, run, at=AT)

    first, second = (runs.commit(path, run, at=AT) for _ in range(2))

    assert (first.before, second.before) == (False, True)
    assert on_shelf(path).left_um == 7_000_000
    assert on_shelf(path).reserved == ()
    assert first.used == second.used


def test_a_folder_that_is_planned_again_reserves_once(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 3, place="/out"), at=AT)
    runs.reserve(path, run_of("bb", 9, place="/out"), at=AT)

    assert [each.plan for each in on_shelf(path).reserved] == ["bb"]


def test_files_that_cannot_be_written_leave_what_was_reserved_before(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 3, place="/out"), at=AT)

    with (
        pytest.raises(OSError, match="disk"),
        runs.reserving(path, run_of("bb", 9, place="/out"), at=AT),
    ):
        raise OSError("disk")

    assert [each.plan for each in on_shelf(path).reserved] == ["aa"]


def test_film_reserved_by_one_desk_is_not_another_s(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 7), at=AT)

    with pytest.raises(Fault, match=r"7.00 m of them reserved for aa \(job aa\)") as caught:
        runs.reserve(path, run_of("bb", 4), at=AT)

    assert caught.value.code == OUT_OF_REACH
    assert len(on_shelf(path).reserved) == 1


def test_film_that_is_used_by_hand_may_leave_less_than_is_reserved(tmp_path):
    """The film is gone, whatever was meant: the book says so, and the shelf says who is short."""
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 7), at=AT)
    enter.use(path, "P1", 5, reason="test print", at=AT)

    assert on_shelf(path).free_um == -2_000_000
    with pytest.raises(Fault, match=r"takes 7\.00 m of P1, 5\.00 m are left"):
        runs.commit(path, run_of("aa", 7), at=AT)
    assert on_shelf(path).left_um == 5_000_000


def test_a_plan_that_was_given_up_does_not_take_what_others_reserved_since(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 4), at=AT)
    runs.release(path, "aa")
    runs.reserve(path, run_of("bb", 9), at=AT)

    with pytest.raises(Fault, match=r"9\.00 m of them reserved for bb"):
        runs.commit(path, run_of("aa", 4), at=AT)
    runs.commit(path, run_of("aa", 4), at=AT, took_mm=4_000)  # it was printed all the same

    assert (on_shelf(path).left_um, on_shelf(path).free_um) == (6_000_000, -3_000_000)


def test_a_run_that_took_more_or_less_than_planned_is_booked_as_it_was(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 3), at=AT)
    runs.commit(path, run_of("aa", 3), at=AT, took_mm=3_250)

    assert on_shelf(path).left_um == 6_750_000


def test_a_print_that_broke_off_gives_the_rest_back_once(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.commit(path, run_of("aa", 3), at=AT)

    assert runs.give_back(path, "aa", 1_100, reason="broke off", at=AT) == 1_900_000
    assert runs.give_back(path, "aa", 1_100, reason="broke off", at=AT) == 0
    assert on_shelf(path).left_um == 8_900_000


def test_lost_copies_are_booked_by_reason_and_never_more_than_the_run(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.commit(path, run_of("aa", 3), at=AT)
    copies = [
        LostCopy(decal="gull", copy=1, reason="edge lifted", share_um=200_000),
        LostCopy(decal="gull", copy=2, reason="edge lifted", share_um=200_000),
        LostCopy(decal="ring", copy=1, reason="scratched", share_um=100_000),
    ]

    assert runs.lose(path, "aa", copies, at=AT) == (tuple(copies), 500_000)
    assert runs.lose(path, "aa", copies, at=AT) == ((), 0)
    lost = [each for each in open_book(path).movements if each.kind == "lost"]
    assert [(each.length_um, each.reason) for each in lost] == [
        (400_000, "edge lifted: gull 1 to 2"),
        (100_000, "scratched: ring 1"),
    ]


@pytest.mark.parametrize("plan", ["never", "aa"])
def test_only_a_booked_plan_can_lose_copies(tmp_path, plan):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    runs.reserve(path, run_of("aa", 3), at=AT)

    with pytest.raises(Fault, match="is not booked"):
        runs.lose(path, plan, [], at=AT)


@pytest.mark.parametrize(
    ("length_m", "says"), [(-1.0, "-1 m long"), (0.0, "0 m long"), (float("nan"), "nan m long")]
)
def test_lengths_that_cannot_be_are_refused_and_nothing_is_booked(tmp_path, length_m, says):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    for book in (
        lambda: enter.use(path, "P1", length_m, reason="", at=AT),
        lambda: enter.cut_off(path, "P1", length_m, at=AT),
        lambda: enter.add(path, film=FILM, width_mm=1370, length_m=length_m, at=AT),
    ):
        with pytest.raises(Fault, match=says):
            book()
    assert len(open_book(path).movements) == 1


def test_an_unknown_piece_is_named_with_the_nearest(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10, id_="W-0412")

    with pytest.raises(Fault) as caught:
        enter.use(path, "W-0421", 1, reason="", at=AT)

    assert "W-0421" in caught.value.what
    assert "W-0412" in caught.value.do


@pytest.mark.parametrize("id_", ["W-0412", "supplier", "-x", "12", "a" * 21, ""])
def test_ids_that_are_taken_or_could_be_misread_are_refused(tmp_path, id_):
    path = tmp_path / "stock.sqlite"
    roll(path, 10, id_="W-0412")

    with pytest.raises(Fault):
        roll(path, 10, id_=id_)
    assert len(open_book(path).pieces) == 1
