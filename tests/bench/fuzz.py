"""Fuzzing of the readers: `python -m tests.bench.fuzz READER --minutes 10 [--json FILE]`.

Good input is mutated (bytes and pieces of text exchanged, doubled, cut out; numbers made huge,
negative, none) and read. A reader may refuse it in its own words; anything else is a crash,
which is shown with the seed that makes it again. A reading over ten seconds is one too.
"""

import argparse
import io
import json
import re
import shutil
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
from PIL import Image

from nestplan.artwork import load_artwork
from nestplan.artwork.svg.path import path_data
from nestplan.artwork.svg.units import Unreadable as PathUnreadable
from nestplan.check import check_folder
from nestplan.check.cut_layer import read_cut_layer
from nestplan.check.dxf_file import BrokenDxf, read_dxf
from nestplan.check.said import read_said
from nestplan.faults import Fault, Faults
from nestplan.files.writer import run_files
from nestplan.fit.table import read_table
from nestplan.job import read_job
from tests.files.handmade import a_run
from tests.small_job import changed, write_small_job

SLOW_S = 10.0
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
ODD = (b"1e9", b"-1e9", b"nan", b"1e400", b"0", b"-1", b"", b"99999999999999999999", b".")

Read = Callable[[bytes, Path], object]


def mutated(data: bytes, rng: np.random.Generator, others: list[bytes]) -> bytes:
    """One to four changes."""
    for _ in range(rng.integers(1, 5)):
        at, end = sorted(rng.integers(0, len(data) + 1, 2).tolist()) if data else (0, 0)
        end = min(end, at + int(rng.integers(1, 60)))
        match rng.integers(7):
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
            case _:
                found = list(NUMBER.finditer(data))
                if found:
                    spot = found[rng.integers(len(found))]
                    data = data[: spot.start()] + ODD[rng.integers(len(ODD))] + data[spot.end() :]
    return data


def art(name: str) -> Read:
    """Loads a small job whose burgee is other art."""

    def read(data: bytes, folder: Path) -> None:
        if not (folder / "job.toml").exists():
            write_small_job(folder)
            if name != "burgee.svg":
                changed(folder / "job.toml", "art/burgee.svg", f"art/{name}")
                text = (folder / "job.toml").read_text()
                head, _, tail = text.rpartition('contour = "layer:outline"')
                kind = "page" if name.endswith("pdf") else "outline"
                (folder / "job.toml").write_text(f'{head}contour = "{kind}"{tail}')
        (folder / "art" / name).write_bytes(data)
        load_artwork(read_job(folder / "job.toml"))

    return read


def job(data: bytes, folder: Path) -> None:
    """Reads a job file beside the small job's shop."""
    if not (folder / "shop.toml").exists():
        write_small_job(folder)
    (folder / "job.toml").write_bytes(data)
    read_job(folder / "job.toml")


def table(data: bytes, folder: Path) -> None:
    """Reads measured marks."""
    (folder / "marks.csv").write_bytes(data)
    read_table(folder / "marks.csv")


FILES = run_files(a_run())
SAID, _ = read_said(FILES["summary.json"], "summary.json")


def layer(data: bytes, folder: Path) -> None:
    """Reads a cut layer."""
    assert SAID is not None
    read_cut_layer(data, "cut-01.svg", SAID, SAID.frames[0])


def checked(data: bytes, folder: Path) -> None:
    """Checks the small plan with one file exchanged, whichever the bytes begin with."""
    name, _, rest = data.partition(b"\0")
    target = name.decode("latin-1") if name.decode("latin-1") in FILES else "cut-01.dxf"
    for each, good in FILES.items():
        (folder / each).write_bytes(rest if each == target else good)
    check_folder(folder)


def pixels(kind: str, mode: str) -> bytes:
    """A small picture."""
    held = io.BytesIO()
    picture = Image.new(mode, (60, 40), (255, 255, 255, 0)[: len(mode)])
    picture.paste((20, 90, 160, 255)[: len(mode)], (8, 8, 50, 32))
    picture.save(held, kind)
    return held.getvalue()


def page() -> bytes:
    """A small page with nothing packed, so that its operators are mutated too."""
    held = io.BytesIO()
    with pikepdf.new() as pdf:
        sheet = pdf.add_blank_page(page_size=(250, 165))
        text = b"q .2 .4 .9 rg 1 0 0 1 5 5 cm 10 10 200 140 re f 0 0 m 9 9 20 5 40 40 c S Q\n"
        sheet.obj.Contents = pdf.make_stream(text * 3)
        pdf.save(held, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.none)
    return held.getvalue()


def seeds(reader: str) -> list[bytes]:
    """Good input."""
    with tempfile.TemporaryDirectory() as held:
        write_small_job(Path(held))
        drawing = (Path(held) / "art/burgee.svg").read_bytes()
        order = (Path(held) / "job.toml").read_bytes()
    return {
        "path": [b"M0 0C1 2 3 4 5 6S7 8 9 9Q1 1 2 2T3 3A5 5 0 0 1 9 9ZmL.5.5-1-2", b"M1,2h3v4z"],
        "svg": [drawing, *(data for name, data in FILES.items() if name.endswith(".svg"))],
        "pdf": [FILES["print.pdf"], page()],
        "pixels": [pixels("PNG", "RGBA"), pixels("TIFF", "RGB"), pixels("WEBP", "RGBA")],
        "job": [order],
        "dxf": [FILES["cut-01.dxf"], FILES["cut-02.dxf"]],
        "cut": [FILES["cut-01.svg"], FILES["cut-02.svg"]],
        "table": [FILES["marks.csv"]],
        "check": [name.encode() + b"\0" + data for name, data in FILES.items()],
    }[reader]


READERS: dict[str, Read] = {
    "path": lambda data, folder: path_data(data.decode("latin-1")),
    "svg": art("burgee.svg"),
    "pdf": art("burgee.pdf"),
    "pixels": art("burgee.png"),
    "job": job,
    "dxf": lambda data, folder: read_dxf(data),
    "cut": layer,
    "table": table,
    "check": checked,
}
REFUSED = (Fault, Faults, BrokenDxf, PathUnreadable)


def fuzzed(reader: str, minutes: float, first: int) -> dict:
    """Mutate and read until the time is over."""
    good, crashes, number, slowest = seeds(reader), {}, first, 0.0
    end = time.monotonic() + 60 * minutes
    with tempfile.TemporaryDirectory() as held:
        while time.monotonic() < end:
            rng = np.random.default_rng(number)
            data = mutated(good[rng.integers(len(good))], rng, good)
            folder = Path(held) / "work"
            folder.mkdir(exist_ok=True)
            start = time.process_time()
            try:
                READERS[reader](data, folder)
            except REFUSED:
                pass
            except Exception as error:
                place = traceback.extract_tb(error.__traceback__)[-1]
                key = f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}"
                crashes.setdefault(key, number)
            slowest = max(slowest, time.process_time() - start)
            if slowest > SLOW_S:
                crashes.setdefault("slower than ten seconds", number)
            if reader == "check":
                shutil.rmtree(folder)
            number += 1
    return {
        "reader": reader,
        "minutes": minutes,
        "inputs": number - first,
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
