"""A damaged file gives findings or a fault, never a traceback."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nestplan.check import check_folder
from nestplan.check.said import read_said
from nestplan.faults import Fault
from tests.check.edit import edit

FILES = ("print.pdf", "proof.pdf", "cut-01.svg")


def survives(folder: Path) -> bool:
    """Whether something is said about the folder; anything raised but a fault fails the test."""
    try:
        return bool(check_folder(folder).found)
    except Fault:
        return True


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.999])
def test_a_truncated_file_is_found(folder, name, share):
    edit(folder, name, lambda data: data[: int(len(data) * share)])

    assert survives(folder)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_flipped_bits_do_no_harm(four_copies, tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("flipped")
    for path in four_copies.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    name = data.draw(st.sampled_from(FILES))
    size = (folder / name).stat().st_size
    places = data.draw(st.lists(st.integers(0, size - 1), min_size=1, max_size=20))

    def flip(held: bytes) -> bytes:
        flipped = bytearray(held)
        for place in places:
            flipped[place] ^= 1 << (place % 8)
        return bytes(flipped)

    edit(folder, name, flip)
    survives(folder)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_other_numbers_do_no_harm(four_copies, tmp_path_factory, data):
    """A number of a cut layer or an uncompressed part of a PDF becomes a hostile one."""
    folder = tmp_path_factory.mktemp("numbers")
    for path in four_copies.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    name = data.draw(st.sampled_from(FILES))
    tokens = list(re.finditer(rb"-?\d+(\.\d+)?", (folder / name).read_bytes()))
    token = tokens[data.draw(st.integers(0, len(tokens) - 1))]
    other = data.draw(st.sampled_from([b"", b"-1", b"0", b"1e309", b"nan", b"99999999999", b"x"]))
    edit(folder, name, lambda held: held[: token.start()] + other + held[token.end() :])

    survives(folder)


def paths(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every key and index of a JSON value."""
    if isinstance(value, dict | list):
        for step, each in value.items() if isinstance(value, dict) else enumerate(value):
            yield (*at, step)
            yield from paths(each, (*at, step))


def test_every_key_of_the_contract_is_missed(four_copies):
    """Taken out one by one: the summary is refused, and the finding names the key."""
    text = (four_copies / "summary.json").read_text()
    optional = {("inputs", "shop"), ("inputs", "job")}  # as the user wrote them
    for path in paths(json.loads(text)):
        if isinstance(path[-1], int) or path[:2] in optional or path[0] == "files":
            continue
        if path[:2] in {("setups", "pair"), ("inputs", "art")} or len(path) > 4:
            continue
        said = json.loads(text)
        part = said
        for step in path[:-1]:
            part = part[step]
        del part[path[-1]]
        if path[-1] in ("berth plate", "club burgee"):
            continue  # names the shop chose
        read, against = read_said(json.dumps(said).encode(), "summary.json")

        assert read is None, path
        assert any(str(path[-1]) in each.where for each in against), path


@pytest.mark.parametrize("value", [None, -1, 1e300, "x", [], {}, True])
@pytest.mark.parametrize(
    "path",
    [
        ("frames", 0, "length_mm"),
        ("frames", 0, "placements", 0, "x_mm"),
        ("decals", 0, "contour", 0, 0),
        ("decals", 0, "contour"),
        ("roll", "width_mm"),
        ("page_x0_mm",),
        ("marks", "size_mm"),
        ("files",),
    ],
)
def test_a_hostile_value_in_the_summary_is_found(folder, path, value):
    said = json.loads((folder / "summary.json").read_bytes())
    part = said
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    (folder / "summary.json").write_text(json.dumps(said))

    assert survives(folder)
