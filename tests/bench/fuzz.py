"""Fuzzing of the readers: `python -m tests.bench.fuzz READER --minutes 10 [--json FILE]`.

Good input is mutated (bytes and pieces of text exchanged, doubled, cut out; numbers made huge,
negative, none) and read. A reader may refuse it in its own words; anything else is a crash,
which is shown with the seed that makes it again. A reading over ten seconds is one too. How
many inputs were read to the end, not refused, is told: the good ones are tests/bench/fuzz_seeds.
"""

import argparse
import json
import re
import shutil
import tempfile
import time
import traceback
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf

from nestplan.artwork import load_artwork
from nestplan.artwork.svg.path import path_data
from nestplan.artwork.svg.units import Unreadable as PathUnreadable
from nestplan.check import check_folder
from nestplan.check.cut_layer import read_cut_layer
from nestplan.check.dxf_file import BrokenDxf, read_dxf
from nestplan.check.said import read_said
from nestplan.faults import Fault, Faults
from nestplan.files.art_form import art_forms
from nestplan.files.proof_raster import lighter
from nestplan.fit.table import read_table
from nestplan.job import read_job
from nestplan.job.read import read_shop
from nestplan.learn.timings import read_timings
from tests.artwork.handmade import job as a_job
from tests.bench.fuzz_seeds import FILES, GOOD, ROW_SVG
from tests.check.edit import edit

SLOW_S = 10.0
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
WORD = re.compile(rb"[A-Za-z][\w-]*")
ODD = (b"1e9", b"-1e9", b"nan", b"1e400", b"0", b"-1", b"", b"99999999999999999999", b".")
PNG = b"\x89PNG\r\n\x1a\n"

Read = Callable[[bytes, Path], object]
MADE = {"make_bleed": "edge", "backing": "rounded:2,2"}
ISLES = {"islands": "join", "join_mm": 2.0, "least_hole_mm": 1.0, "least_radius_mm": 0.5}
WAYS: dict[str, list[dict]] = {  # how the job orders the art: one way an input, by its bytes
    "art.svg": [
        {"contour": "layer:outline"},
        {"contour": "layer:outline", **MADE},
        {"contour": "outline", **MADE},
        {"contour": "offset:2", **ISLES},
        {"contour": "hull:1", "width_mm": 60},
    ],
    "art.pdf": [
        {"contour": "layer:knife"},
        {"contour": "spot:Knife", "make_bleed": "mirror"},
        {"contour": "trim"},
        {"contour": "page"},
        {"contour": "outline", "make_bleed": "edge"},
    ],
    "art.png": [
        {"contour": "outline", "width_mm": 40, **MADE},
        {"contour": "offset:1", "width_mm": 40, **ISLES},
        {"contour": "page", "width_mm": 40, "make_bleed": "mirror"},
    ],
}


def mutated(data: bytes, rng: np.random.Generator, others: list[bytes]) -> bytes:
    """One to four changes; half of the inputs keep their form, only numbers and words change."""
    gentle = rng.random() < 0.5
    for _ in range(rng.integers(1, 5)):
        at, end = sorted(rng.integers(0, len(data) + 1, 2).tolist()) if data else (0, 0)
        end = min(end, at + int(rng.integers(1, 60)))
        match rng.integers(5, 8) if gentle else rng.integers(7):
            case 0:
                data = data[:at] + data[end:]
            case 1:
                data = data[:end] + data[at:]
            case 2:
                data = (
                    data[:at] + bytes(rng.integers(0, 256, end - at, dtype=np.uint8)) + data[end:]
                )
            case 3:
                other = others[rng.integers(len(others))]
                start = int(rng.integers(0, max(1, len(other))))
                data = data[:at] + other[start : start + 40] + data[end:]
            case 4:
                data = data[: max(at, 1)] if rng.random() < 0.3 else data
            case 7:
                words = WORD.findall(others[rng.integers(len(others))])
                found = list(WORD.finditer(data))
                if found and words:
                    spot = found[rng.integers(len(found))]
                    data = (
                        data[: spot.start()]
                        + words[rng.integers(len(words))]
                        + (data[spot.end() :])
                    )
            case _:
                found = list(NUMBER.finditer(data))
                if found:
                    spot = found[rng.integers(len(found))]
                    data = data[: spot.start()] + ODD[rng.integers(len(ODD))] + data[spot.end() :]
    return data


def whole(data: bytes) -> bytes:
    """A PNG whose parts have the sums that belong to them: else all are refused for these."""
    if not data.startswith(PNG):
        return data
    parts, at = [PNG], len(PNG)
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        if end > len(data):
            break
        body = data[at + 4 : end]
        parts.append(data[at : at + 4] + body + zlib.crc32(body).to_bytes(4, "big"))
        at = end + 4
    return b"".join(parts) + data[at:]


def art(name: str) -> Read:
    """Loads a decal with this art, and carries it over as print and proof do."""

    def read(data: bytes, folder: Path) -> None:
        ways = WAYS[name]
        load(data, name, ways[zlib.crc32(data) % len(ways)], folder)

    return read


def load(data: bytes, name: str, way: dict, folder: Path) -> None:
    """One order of the art, read and carried over."""
    (folder / name).write_bytes(data)
    found = load_artwork(a_job(folder, {"name": "plate", "artwork": name, **way}))
    with pikepdf.new() as pdf:
        art_forms(pdf, [lighter(decal, 4.0) for decal in found.decals])


def rows(data: bytes, folder: Path) -> None:
    """Reads the rows of a numbered decal."""
    (folder / "plate.svg").write_bytes(ROW_SVG)
    (folder / "rows.csv").write_bytes(data)
    order = {"name": "plate", "artwork": "plate.svg", "rows": "rows.csv", "quantity": None}
    load_artwork(a_job(folder, {**order, "contour": "layer:outline"}))


def job(data: bytes, folder: Path) -> None:
    """Reads a job file beside the shops of the small job and of the demo."""
    for name, shop in zip(("shop.toml", "demo.toml"), GOOD["shop"], strict=True):
        (folder / name).write_bytes(shop)
    (folder / "job.toml").write_bytes(data.replace(b"../shop.toml", b"demo.toml"))
    read_job(folder / "job.toml")


def file_of(name: str, reader: Callable[[Path], object]) -> Read:
    """A reader that is given a path."""

    def read(data: bytes, folder: Path) -> None:
        (folder / name).write_bytes(data)
        reader(folder / name)

    return read


SAID, _ = read_said(FILES["summary.json"], "summary.json")


def layer(data: bytes, folder: Path) -> None:
    """Reads a cut layer."""
    assert SAID is not None
    read_cut_layer(data, "cut-01.svg", SAID, SAID.frames[0])


def checked(data: bytes, folder: Path) -> None:
    """Checks the small plan with one file exchanged, whichever the bytes begin with.

    Its digest is made right in most cases, so that the check looks into the file.
    """
    name, _, rest = data.partition(b"\0")
    target = name.decode("latin-1") if name.decode("latin-1") in FILES else "cut-01.dxf"
    for each, good in FILES.items():
        (folder / each).write_bytes(rest if each == target else good)
    if target != "summary.json" and zlib.crc32(rest) % 8:
        (folder / "summary.json").write_bytes(FILES["summary.json"])
        edit(folder, target, lambda data: data)
    check_folder(folder)


READERS: dict[str, Read] = {
    "path": lambda data, folder: path_data(data.decode("latin-1")),
    "svg": art("art.svg"),
    "pdf": art("art.pdf"),
    "pixels": art("art.png"),
    "rows": rows,
    "job": job,
    "shop": file_of("shop.toml", read_shop),
    "dxf": lambda data, folder: read_dxf(data),
    "cut": layer,
    "table": file_of("marks.csv", read_table),
    "timings": file_of("times.csv", read_timings),
    "check": checked,
}
REFUSED = (Fault, Faults, BrokenDxf, PathUnreadable)


def fuzzed(reader: str, minutes: float, first: int) -> dict:
    """Mutate and read until the time is over."""
    good, crashes, number, slowest, read = GOOD[reader], {}, first, 0.0, 0
    end, began = time.monotonic() + 60 * minutes, time.process_time()
    with tempfile.TemporaryDirectory() as held:
        while time.monotonic() < end:
            rng = np.random.default_rng(number)
            data = whole(mutated(good[rng.integers(len(good))], rng, good))
            folder = Path(held) / "work"
            folder.mkdir(exist_ok=True)
            start = time.process_time()
            try:
                READERS[reader](data, folder)
                read += 1
            except REFUSED:
                pass
            except Exception as error:
                place = traceback.extract_tb(error.__traceback__)[-1]
                key = f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}"
                if crashes.setdefault(key, number) == number:
                    print(number, traceback.format_exc(), flush=True)
            slowest = max(slowest, time.process_time() - start)
            if slowest > SLOW_S:
                crashes.setdefault("slower than ten seconds", number)
            if reader == "check":
                shutil.rmtree(folder)
            number += 1
    return {
        "reader": reader,
        "minutes": minutes,
        "processor_s": round(time.process_time() - began),
        "inputs": number - first,
        "read": read,
        "slowest_s": round(slowest, 2),
        "crashes": crashes,
    }


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("reader", choices=READERS)
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--first", type=int, default=0, help="seed of the first input")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    result = fuzzed(asked.reader, asked.minutes, asked.first)
    print(json.dumps(result, indent=1))
    if asked.json:
        asked.json.write_text(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
