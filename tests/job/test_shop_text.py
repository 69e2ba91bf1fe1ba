"""A shop file that is changed keeps every line where it stands."""

import tomllib
from pathlib import Path

import pytest

from nestplan.job.shop_text import parse_shop, shop_tables, shop_text

DEMO = Path(__file__).parents[2] / "demo_jobs" / "shop.toml"
LATE = """# head
[[roll]]
name = "a"
avoid_m = [
  [1, 2],
]

[[machine]]
name = "m"
x = 1   # kept
[[machine.mode]]
name = "q"

[[roll]]   # late
name = "b"

[[machine]]
name = "n"
x = 2
[machine.tools]
kiss = "blade"

[cost]
c = 1
"""


@pytest.mark.parametrize("text", [LATE, DEMO.read_text(encoding="utf-8")], ids=["late", "demo"])
def test_what_is_not_changed_is_written_as_it_was(text):
    assert shop_text(parse_shop(text)) == text


def test_tables_that_come_late_are_found_in_order_and_changed_where_they_stand():
    document = parse_shop(LATE)
    rolls, machines = (shop_tables(document, name) for name in ("roll", "machine"))
    assert [str(each["name"]) for each in rolls] == ["a", "b"]

    machines[1]["x"] = 5
    changed = shop_text(document)

    assert changed == LATE.replace("x = 2", "x = 5")
    assert tomllib.loads(changed)["machine"][1]["x"] == 5
