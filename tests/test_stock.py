"""The stock through its commands: plan reserves, --commit books once, faults have three parts."""

import json
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from tests.check.edit import bend
from tests.small_job import changed, write_small_job

FILM = "white gloss 600"


def run(*words: object, code: int = 0):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    return result


def said(*words: object, code: int = 0):
    return json.loads(run(*words, "--json", code=code).stdout)


def plan(job: Path, out: Path, *more: object, code: int = 0):
    return run("plan", job, "--out", out, "--steps", 60, *more, code=code)


def few_copies(folder: Path) -> Path:
    """The small job with three copies, for most of what is tested asks for no more."""
    job = write_small_job(folder)
    changed(job, "quantity = 8", "quantity = 2")
    changed(job, "quantity = 6", "quantity = 1")
    return job


@pytest.fixture
def shop(tmp_path) -> Path:
    """A job, and a stock with a long roll and a short one."""
    job = few_copies(tmp_path / "job")
    shop = tmp_path / "job/shop.toml"
    run("stock", "add", shop, FILM, 20, "--splice", 12.1)
    run("stock", "add", shop, FILM, 3, "--id", "W-07")
    assert job.exists()
    return shop


def job_of(shop: Path) -> Path:
    return shop.with_name("job.toml")


def left(shop: Path) -> dict[str, tuple[float, float]]:
    """Left and free, m, by piece."""
    return {each["id"]: (each["left_m"], each["free_m"]) for each in said("stock", "list", shop)}


def test_a_plan_reserves_the_shortest_piece_and_the_commit_books_it_once(shop, tmp_path):
    out = tmp_path / "out"
    plan(job_of(shop), out)
    summary = json.loads((out / "summary.json").read_bytes())
    used_m = summary["roll"]["length_used_mm"] / 1000

    assert summary["inputs"]["stock"] == {
        "piece": "W-07",
        "movement": 2,
        "left_m": 3.0,
        "avoid_m": [],
    }
    assert left(shop) == {"P1": (20, 20), "W-07": (3, pytest.approx(3 - used_m))}

    first = said("plan", job_of(shop), "--out", out, "--commit")
    second = said("plan", job_of(shop), "--out", out, "--commit")

    assert (first["booked_before"], second["booked_before"]) == (False, True)
    assert first["plan"] == summary["plan"]
    assert left(shop)["W-07"] == (pytest.approx(3 - used_m), pytest.approx(3 - used_m))
    assert json.loads((out / "summary.json").read_bytes()) == summary
    assert check_folder(out).found == ()


def test_planning_again_into_the_folder_gives_the_same_bytes_and_one_reservation(shop, tmp_path):
    out = tmp_path / "out"
    plan(job_of(shop), out)
    before = {each.name: each.read_bytes() for each in out.iterdir()}
    plan(job_of(shop), out)

    assert {each.name: each.read_bytes() for each in out.iterdir()} == before
    assert len(said("stock", "list", shop, "W-07")["reserved"]) == 1


def test_plan_and_book_in_one_go_twice_is_one_run(shop, tmp_path):
    for _ in range(2):
        plan(job_of(shop), tmp_path / "out", "--commit")

    moves = said("stock", "list", shop, "W-07")["movements"]
    assert [each["kind"] for each in moves] == ["add", "run"]


def test_a_second_order_is_a_second_run(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out", "--commit")
    plan(job_of(shop), tmp_path / "more", "--commit")

    moves = said("stock", "list", shop, "W-07")["movements"]
    assert [each["kind"] for each in moves] == ["add", "run", "run"]


def test_a_second_order_is_a_second_run_though_a_count_found_as_much_film_as_before(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out", "--commit")
    run("stock", "count", shop, "W-07", 3)
    plan(job_of(shop), tmp_path / "more", "--commit")

    assert left(shop)["W-07"][0] < 3


def test_a_plan_made_with_another_aim_is_booked_as_it_lies(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out", "--aim", "time")

    assert not said("plan", job_of(shop), "--out", tmp_path / "out", "--commit")["booked_before"]


def test_a_job_changed_since_is_not_booked(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out")
    changed(job_of(shop), "quantity = 2", "quantity = 3")
    result = plan(job_of(shop), tmp_path / "out", "--commit", code=2)

    assert "job.toml (decal) changed" in result.stderr
    assert len(said("stock", "list", shop, "W-07")["movements"]) == 1


def test_a_splice_where_the_frame_would_lie_moves_the_run_to_another_piece(shop, tmp_path):
    run("stock", "mark", shop, "W-07", "--splice", 0.1)
    plan(job_of(shop), tmp_path / "out")

    summary = json.loads((tmp_path / "out/summary.json").read_bytes())
    assert summary["inputs"]["stock"]["piece"] == "P1"


def test_a_piece_that_the_job_names_has_its_frame_moved_past_the_splice(shop, tmp_path):
    run("stock", "mark", shop, "W-07", "--defect", "0.1-0.4")
    changed(job_of(shop), "gutter_mm", 'piece = "W-07"\ngutter_mm')
    plan(job_of(shop), tmp_path / "out")
    summary = json.loads((tmp_path / "out/summary.json").read_bytes())

    assert summary["inputs"]["stock"]["avoid_m"] == [[0.1, 0.4]]
    assert summary["frames"][0]["y0_mm"] >= 400
    assert check_folder(tmp_path / "out").found == ()

    def spoilt_there(summary):
        summary["inputs"]["stock"]["avoid_m"] = [[0.1, 0.45]]

    bend(tmp_path / "out", spoilt_there)
    assert {each.kind for each in check_folder(tmp_path / "out").found} == {Kind.SPOILED_FILM}


def test_a_run_lies_behind_what_is_reserved_before_it(shop, tmp_path):
    """The other plan is printed first, so the splice lies nearer by what it takes."""
    changed(job_of(shop), "gutter_mm", 'piece = "W-07"\ngutter_mm')
    plan(job_of(shop), tmp_path / "one")
    run("stock", "mark", shop, "W-07", "--splice", 0.3)
    plan(job_of(shop), tmp_path / "two")
    one, two = (
        json.loads((tmp_path / name / "summary.json").read_bytes()) for name in ("one", "two")
    )
    used_m = one["roll"]["length_used_mm"] / 1000

    assert two["inputs"]["stock"]["left_m"] == pytest.approx(3 - used_m)
    assert two["inputs"]["stock"]["avoid_m"][0][0] == pytest.approx(0.295 - used_m, abs=1e-6)


def test_the_run_card_says_which_piece(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out")
    document = pypdfium2.PdfDocument(tmp_path / "out/proof.pdf")
    words = " ".join(page.get_textpage().get_text_range() for page in document)

    assert "on W-07, white gloss 600" in " ".join(words.split())


def test_laminate_is_reserved_and_booked_with_the_film(tmp_path):
    job = few_copies(tmp_path / "job")
    shop = tmp_path / "job/shop.toml"
    changed(
        shop,
        "[[machine]]",
        '[[roll]]\nname = "clear 700"\nuse = "laminate"\nwidth_mm = 700\nleft_m = 1\nprice = 1\n\n'
        "[[machine]]",
    )
    changed(
        shop,
        '[[setup]]\nname = "pair"',
        '[[machine]]\nname = "laminator"\ndoes = ["laminate"]\nwidth_mm = 1600\n'
        'laminate_mm_s = 20\n[[setup]]\nname = "pair"',
    )
    changed(shop, '{ machine = "cutter"', '{ machine = "laminator" },\n  { machine = "cutter"')
    changed(job, "gutter_mm", 'laminate = "clear 700"\ngutter_mm')
    run("stock", "add", shop, FILM, 20)
    run("stock", "add", shop, "clear 700", 0.1)
    refused = plan(job, tmp_path / "out", code=3)
    assert "no piece of the laminate holds" in refused.stderr
    run("stock", "add", shop, "clear 700", 9)

    booked = said("plan", job, "--out", tmp_path / "out", "--steps", 60, "--commit", code=0)
    again = said("plan", job, "--out", tmp_path / "out", "--commit")

    assert booked["plan"] == again["plan"]
    assert [each["piece"] for each in again["used"]] == ["P1", "P3"]
    assert left(shop)["P3"][0] == pytest.approx(9 - again["used"][0]["length_m"])


def test_what_a_run_took_is_kept_and_the_next_is_told(shop, tmp_path):
    for name in ("a", "b", "c"):
        plan(job_of(shop), tmp_path / name, "--commit")
        told = said("plan", job_of(shop), "--out", tmp_path / name, "--commit")
        run("stock", "took", shop, told["plan"], "--film", 0.26, "--cut", "40 s")
    found = said("stock", "history", shop)["stages"]

    assert found["cut"]["runs"] == 3
    assert found["film"]["low"] < found["film"]["factor"] < found["film"]["high"]
    assert found["print"]["low"] is None
    assert "by 3 runs" in run("stock", "history", shop).stdout

    words = plan(job_of(shop), tmp_path / "d").stdout
    prices = said("price", job_of(shop), "--steps", 30)["prices"]

    assert "likely cut" in words
    assert "for nine runs of ten, by 3 runs" in words
    cut = prices[0]["likely"]["cut"]
    assert cut["likely"] == pytest.approx(cut["planned"] * found["cut"]["factor"], rel=1e-4)
    assert cut["low"] < cut["likely"] < cut["high"]
    assert set(prices[0]["likely"]) == {"film", "cut"}


def test_other_commands_see_the_film_that_the_stock_has(shop, tmp_path):
    """The shop file says 20 m; so does the longest roll, until it is scrapped."""
    run("stock", "use", shop, "P1", 20, "--scrap")
    run("stock", "use", shop, "W-07", 2.9, "--scrap")

    for words in (("price",), ("compare", "--shares", 1, "--out", tmp_path / "c")):
        refused = run(words[0], job_of(shop), *words[1:], "--steps", 30, code=3)
        assert "W-07 has 0.1 m free" in refused.stderr


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("use", "SHOP", "P9", 1), 2, "no roll or remnant 'P9'"),
        (("use", "SHOP", "W-07", 3.5), 3, "3.00 m are left"),
        (("use", "SHOP", "W-07", -1), 2, "-1 m long"),
        (("count", "SHOP", "W-07", -0.5), 2, "counted at -0.5 m"),
        (("add", "SHOP", "white glos 600", 5), 2, 'has no roll "white glos 600"'),
        (("add", "SHOP", FILM, 5, "--width", 900), 2, "cannot be 900 mm wide"),
        (("add", "SHOP", FILM, 5, "--id", "W-07"), 2, "in the stock already"),
        (("add", "SHOP", FILM, 5, "--defect", "4.2"), 2, "no stretch of film"),
        (("cut", "SHOP", "W-07", 4), 3, "3.00 m are left"),
        (("mark", "SHOP", "W-07"), 2, "nothing is stated"),
        (("mark", "SHOP", "W-07", "--clear", 9), 2, "no spoiled stretch 9"),
        (("free", "SHOP", "abc"), 2, "no film is reserved for plan 'abc'"),
        (("took", "SHOP", "abc", "--cut", "9:40"), 2, "is not booked"),
        (("took", "SHOP", "abc", "--cut", "fast"), 2, "no time above 0"),
        (("label", "SHOP", "W-07", "--out", "label.png"), 2, "is no PDF"),
        (("history", "SHOP", "--setup", "pairs"), 2, 'no setup "pairs"'),
    ],
)
def test_what_cannot_be_is_named_and_not_booked(shop, words, code, says):
    before = left(shop)
    named = [shop if word == "SHOP" else word for word in words]
    result = run("stock", *named, code=code)

    assert says in result.stderr
    assert "\n  where  " in result.stderr
    assert "\n  do     " in result.stderr
    assert left(shop) == before


def test_a_shop_without_a_stock_plans_as_ever_and_has_nothing_to_book(tmp_path):
    job = few_copies(tmp_path / "job")
    plan(job, tmp_path / "out")
    refused = plan(job, tmp_path / "out", "--commit", code=3)

    assert "keeps no stock" in refused.stderr
    assert not (tmp_path / "job/stock.sqlite").exists()
    assert "stock" not in json.loads((tmp_path / "out/summary.json").read_bytes())["inputs"]


def test_film_that_the_stock_does_not_keep_is_planned_by_the_shop_file(shop, tmp_path):
    changed(shop, "[[machine]]", f'[[roll]]\nname = "{FILM} b"\nwidth_mm = 600\nleft_m = 9\n'
            'price = 1\n\n[[machine]]')  # fmt: skip
    changed(job_of(shop), f'roll = "{FILM}"', f'roll = "{FILM} b"')
    plan(job_of(shop), tmp_path / "out")
    refused = plan(job_of(shop), tmp_path / "out", "--commit", code=3)

    assert "not on a piece of the stock" in refused.stderr


@pytest.mark.parametrize(
    ("piece", "code", "says"),
    [("W-08", 2, "no roll or remnant 'W-08'"), ("tiny", 3, "tiny has 0.1 m free")],
)
def test_a_piece_that_will_not_do_is_named(shop, tmp_path, piece, code, says):
    run("stock", "add", shop, FILM, 0.1, "--id", "tiny")
    changed(job_of(shop), "gutter_mm", f'piece = "{piece}"\ngutter_mm')

    assert says in plan(job_of(shop), tmp_path / "out", code=code).stderr


def test_all_film_reserved_is_out_of_reach(shop, tmp_path):
    for piece in ("P1", "W-07"):
        metres = left(shop)[piece][0]
        run("stock", "use", shop, piece, metres, "--scrap", "--reason", "wet")
    result = plan(job_of(shop), tmp_path / "out", code=3)

    assert "no film" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_damaged_stock_stops_the_plan_and_leaves_the_files(shop, tmp_path):
    plan(job_of(shop), tmp_path / "out")
    before = (tmp_path / "out/summary.json").read_bytes()
    shop.with_name("stock.sqlite").write_bytes(b"SQLite format 3\0" + b"x" * 5000)
    result = plan(job_of(shop), tmp_path / "out", code=3)

    assert "the stock file is damaged" in result.stderr
    assert (tmp_path / "out/summary.json").read_bytes() == before
