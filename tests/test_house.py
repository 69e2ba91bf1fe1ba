"""The house: data flows one way, and no module looks back up the flow."""

import ast
from pathlib import Path

import pytest

import nestplan

HOUSE = Path(nestplan.__file__).parent
FLOW = [
    "job",
    "artwork",
    "nest",
    "marks",
    "cut",
    "clock",
    "cost",
    "trade",
    "files",
    "check",
    "target",
    "fit",
    "shift",
    "compare",
    "learn",
    "stock",
    "again",
    "plan_aim",
    "plan",
    "plan_ways",
    "plan_price",
    "plan_vary",
    "plan_film",
    "plan_shift",
    "plan_compare",
    "plan_stock",
    "plan_again",
    "show",
    "report",
    "price_words",
    "vary_words",
    "quote",
    "plan_quote",
    "quote_words",
    "terminal",
    "cli_write",
    "cli_stock",
    "cli_price",
    "cli_quote",
    "cli_again",
    "cli",
    "__main__",
    "__init__",
]
SHARED = {"faults", "figures", "geometry"}  # may be imported by all, import no room


def rooms_imported(module: Path) -> set[str]:
    """Rooms named in absolute imports; a relative import is reported as itself."""
    names = set()
    for node in ast.walk(ast.parse(module.read_text())):
        match node:
            case ast.ImportFrom() if node.level:
                names.add("nestplan.<relative import>")
            case ast.ImportFrom(module="nestplan"):
                names |= {f"nestplan.{alias.name}" for alias in node.names}
            case ast.ImportFrom():
                names.add(node.module)
            case ast.Import():
                names |= {alias.name for alias in node.names}
    return {name.split(".")[1] for name in names if name.startswith("nestplan.")} - {"__version__"}


@pytest.mark.parametrize(
    "module", sorted(HOUSE.rglob("*.py")), ids=lambda p: str(p.relative_to(HOUSE))
)
def test_a_room_imports_only_from_rooms_before_it(module):
    room = module.relative_to(HOUSE).parts[0].removesuffix(".py")
    allowed = SHARED | set(FLOW[: FLOW.index(room) + 1]) if room in FLOW else SHARED

    assert rooms_imported(module) - allowed == set(), f"{room} looks up the flow"


def test_the_check_imports_no_writer():
    """What checks the files shares no code with what wrote or planned them."""
    for module in (HOUSE / "check").rglob("*.py"):
        assert rooms_imported(module) <= {"check", "faults", "figures"}, module.name


def test_the_verifier_shares_no_code_with_the_engines():
    """It may know the task and the placements, nothing else of the nest."""
    tree = ast.parse((HOUSE / "nest" / "verify.py").read_text())
    modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    ours = {name for name in modules if name.startswith("nestplan")}

    assert ours <= {"nestplan.nest.task", "nestplan.nest.placements", "nestplan.faults"}
