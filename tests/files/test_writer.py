"""A plan's files belong together, and their names and digests say so."""

import hashlib
import json

from nestplan.files import run_files, write_together
from tests.files.handmade import a_run


def a_proof(run) -> bytes:
    """Stands for the proof, which has tests of its own."""
    return b"%PDF-1.7 proof of " + run.job.order.name.encode()


def test_a_plan_has_a_cut_file_for_every_frame_and_its_summary_last():
    names = list(run_files(a_run(), a_proof))

    tables = ["marks", "decals", "frames", "placements", "setups", "figures"]
    cuts = [f"cut-0{n}.{ending}" for n in (1, 2) for ending in ("svg", "dxf")]
    expected = ["print.pdf", "proof.pdf", *cuts, *(f"{each}.csv" for each in tables)]
    assert names == [*expected, "summary.json"]


def test_the_summary_lists_the_digest_of_every_other_file_as_it_lies_on_disk(tmp_path):
    write_together(tmp_path, run_files(a_run(), a_proof))

    listed = json.loads((tmp_path / "summary.json").read_bytes())["files"]
    lying = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in tmp_path.iterdir()
        if path.name != "summary.json"
    }
    assert listed == lying


def test_a_shorter_plan_leaves_no_cut_file_of_the_longer_one(tmp_path):
    """A stale cut file would be cut: its frame looks like any other."""
    files = run_files(a_run(), a_proof)
    longer = dict(files)
    longer["cut-03.svg"] = files["cut-02.svg"]
    told = json.loads(files["summary.json"])
    told["files"]["cut-03.svg"] = "0" * 64
    longer["summary.json"] = json.dumps(told).encode()
    write_together(tmp_path, longer)

    write_together(tmp_path, files)

    assert {path.name for path in tmp_path.iterdir()} == set(files)
