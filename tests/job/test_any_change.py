"""Whatever a person does to one key of a right job, it is read or answered, never a traceback."""

import copy
import json
import tempfile
import tomllib
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

from hypothesis import example, given
from hypothesis import strategies as st

from nestplan.faults import OUT_OF_REACH, WRONG_INPUT
from nestplan.job import JobFile, ShopFile, read_job
from tests.job.sample import JOB, SHOP, faults_in, write

Keys = tuple[str | int, ...]


def toml(value: Any) -> str:
    """A value as TOML, tables inline."""
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
        case list():
            return f"[{', '.join(map(toml, value))}]"
        case dict():
            return "{" + ", ".join(f"{toml(str(k))} = {toml(v)}" for k, v in value.items()) + "}"
        case date() | datetime() | time():
            return value.isoformat()
        case _:
            return str(value).lower().replace("infinity", "inf")


def document(tables: dict[str, Any]) -> str:
    """A whole file."""
    return "".join(f"{toml(key)} = {toml(value)}\n" for key, value in tables.items())


def places(value: Any, keys: Keys = ()) -> Iterator[Keys]:
    """The keys of everything in a file."""
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    for key, part in inside:
        yield (*keys, key)
        if isinstance(part, dict | list):
            yield from places(part, (*keys, key))


FILES = {"job": tomllib.loads(JOB), "shop": tomllib.loads(SHOP)}
PLACES = [(file, keys) for file, tables in FILES.items() for keys in places(tables)]
KNOWN = sorted({str(keys[-1]) for _, keys in PLACES} | {"quantty", "mirrored", "[key]", "$ref"})

junk = st.recursive(
    st.booleans()
    | st.integers(min_value=-(2**70), max_value=2**70)
    | st.integers(min_value=-5, max_value=5_000)
    | st.decimals(allow_nan=False, allow_infinity=False)
    | st.sampled_from(["inf", "-inf", "nan", "1e999", "-1e99999", "1e-999"]).map(Decimal)
    | st.decimals(min_value=-10, max_value=2_000, places=3)
    | st.text(max_size=12)
    | st.sampled_from(
        ["", " ", "printer", "cut", "print", "pair", "roll", "m", "..", "/", "\0", "."]
    )
    | st.sampled_from(["layer:", "layer:x", "offset:", "offset:-3", "colour:#fff", "page", "art"])
    | st.dates()
    | st.times()
    | st.datetimes(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KNOWN), inner),
    max_leaves=4,
)
key_name = st.sampled_from(KNOWN) | st.text(max_size=8)


@st.composite
def one_change(draw: st.DrawFn) -> tuple[str, str]:
    """Job and shop with one value replaced, deleted, renamed, doubled or added."""
    file, keys = draw(st.sampled_from(PLACES))
    tables = copy.deepcopy(FILES)
    inside: Any = tables[file]
    for key in keys[:-1]:
        inside = inside[key]
    last = keys[-1]
    deed = draw(st.sampled_from(["replace", "delete", "rename", "double", "add"]))
    if deed == "replace":
        inside[last] = draw(junk)
    elif deed == "delete":
        del inside[last]
    elif deed == "double" and isinstance(inside, list):
        inside.append(copy.deepcopy(inside[last]))
    elif isinstance(inside, dict):
        inside[draw(key_name)] = inside.pop(last) if deed == "rename" else draw(junk)
    return document(tables["job"]), document(tables["shop"])


def answered(job: str, shop: str) -> None:
    """The job is read and hangs together, or each fault has its three parts, on a line each."""
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder), job, shop)
        faults = faults_in(path)
        for fault in faults:
            for line in (fault.what, fault.where, fault.do):
                assert line.strip()
                assert line.isprintable(), repr(line)
            assert fault.code in (WRONG_INPUT, OUT_OF_REACH)
        if not faults:
            read = read_job(path)
            assert read.roll.name == read.order.roll
            assert "print" in read.printer.does and read.printer.mode
            assert "cut" in read.cutter.does and read.cutter.sensor is not None


@given(one_change())
def test_one_changed_key_is_read_or_answered(files):
    answered(*files)


@given(st.data(), st.sampled_from(["job", "shop"]))
def test_any_slip_of_the_keyboard_is_read_or_answered(data, file):
    """One passage of the text is deleted, or replaced by a few signs."""
    texts = {"job": JOB, "shop": SHOP}
    text = texts[file]
    start = data.draw(st.integers(0, len(text)))
    length = data.draw(st.integers(0, 30))
    put = data.draw(st.text(max_size=4) | st.sampled_from(['"', "[", "]]", "=", "#", "\n", "'''"]))
    answered(**(texts | {file: text[:start] + put + text[start + length :]}))


@given(st.binary(max_size=200))
@example(b"\xff\xfe")
@example(b"a.b.c=1\na.b=2")
@example(b"decal = [1, [2], {}]\nshop = 'shop.toml'")
@example(b"shop = '.'")
@example(b"shop = '/dev/null'")
@example(b"shop = '\\u0000'")
def test_any_bytes_are_answered(data):
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder))
        path.write_bytes(data)
        assert faults_in(path)


def test_the_unchanged_files_are_read():
    """The change of nothing is right, so that the tests above begin from a right job."""
    answered(document(FILES["job"]), document(FILES["shop"]))
    JobFile.model_validate(tomllib.loads(document(FILES["job"]), parse_float=Decimal))
    ShopFile.model_validate(tomllib.loads(document(FILES["shop"]), parse_float=Decimal))
