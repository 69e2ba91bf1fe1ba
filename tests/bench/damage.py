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


def tried(plan: Path, name: str, seed: int) -> dict:
    """What became of one kind."""
    harm = next(each for each in HARMS if each.name == name)
    with tempfile.TemporaryDirectory() as held:
        folder = shutil.copytree(plan, Path(held) / "plan")
        words = harm.do(folder, seed)
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
                state = "named" if row["named"] else "caught" if row["caught"] else "MISSED"
                print(f"{state:7} {row['kind']}", flush=True)
    bent = sum(row["summary_changed"] for row in rows)
    caught, named = (sum(row[key] for row in rows) for key in ("caught", "named"))
    print(f"{len(rows)} kinds, {bent} with the summary changed: {caught} caught, {named} named")
    if asked.json:
        result = {"undamaged": len(good), "caught": caught, "named": named, "kinds": rows}
        asked.json.write_text(json.dumps(result, indent=1, ensure_ascii=False))


if __name__ == "__main__":
    main()
