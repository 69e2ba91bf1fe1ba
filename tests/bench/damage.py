"""Benchmark of the check: `python -m tests.bench.damage --plan DIR --json FILE`.

Every kind of damage of tests/check/harms.py is done to a fresh copy of a good plan's folder,
then the folder is checked. A kind is caught when something is found, and named when a finding
names the element that was hurt. Without --plan the small run made by hand is used.
"""

import argparse
import json
import shutil
import tempfile
from pathlib import Path

from nestplan.check import check_folder
from nestplan.files.writer import run_files
from tests.check.harms import HARMS
from tests.files.handmade import a_run

NO_PLACE = (AssertionError, LookupError, StopIteration, ValueError)


def tried(plan: Path, name: str, seed: int) -> dict:
    """What became of one kind."""
    harm = next(each for each in HARMS if each.name == name)
    with tempfile.TemporaryDirectory() as held:
        folder = shutil.copytree(plan, Path(held) / "plan")
        try:
            words = harm.do(folder, seed)
        except NO_PLACE as error:  # no hole, no backing, one decal only
            return {"kind": name, "no_place": f"{type(error).__name__}: {error}"}
        found = check_folder(folder).found
    told = [f"{each.where} | {each.found}" for each in found]
    return {
        "kind": name,
        "summary_changed": harm.bent,
        "caught": bool(found),
        "named": any(word in text for word in words for text in told),
        "words": list(words),
        "found": [f"{each.kind.number} {each.where}: {each.found}" for each in found][:6],
        "findings": len(found),
    }


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--plan", type=Path)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--only", default="", help="kinds whose name has these words")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as held:
        plan = asked.plan
        if plan is None:
            plan = Path(held)
            for name, data in run_files(a_run()).items():
                (plan / name).write_bytes(data)
        good = check_folder(plan).found
        print(f"undamaged: {len(good)} found")
        rows = []
        for harm in HARMS:
            if asked.only in harm.name:
                row = tried(plan, harm.name, asked.seed)
                rows.append(row)
                if "no_place" in row:
                    print(f"none    {row['kind']}: this plan has no place for it", flush=True)
                    continue
                state = "named" if row["named"] else "caught" if row["caught"] else "MISSED"
                print(f"{state:7} {row['kind']}", flush=True)
    without = sum("no_place" in row for row in rows)
    done = [row for row in rows if "no_place" not in row]
    bent = sum(row["summary_changed"] for row in done)
    caught, named = (sum(row[key] for row in done) for key in ("caught", "named"))
    print(f"{len(done)} kinds, {bent} with the summary changed: {caught} caught, {named} named")
    print(f"{without} kinds have no place in this plan")
    if asked.json:
        result = {"undamaged": len(good), "caught": caught, "named": named, "kinds": rows}
        asked.json.write_text(json.dumps(result, indent=1, ensure_ascii=False))


if __name__ == "__main__":
    main()
