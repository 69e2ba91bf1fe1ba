"""Tabs, weed lines, overcut and shared edges through all rooms: in every file, and in the check."""

import json
from collections.abc import Callable
from pathlib import Path
from shutil import copytree

import ezdxf
import numpy as np
import pikepdf
import pytest
import shapely
from click.testing import CliRunner
from lxml import etree

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from nestplan.faults import Fault, Faults
from nestplan.job import read_job
from tests.check.edit import bend, edit
from tests.small_job import changed, write_small_job

SVG = "{http://www.w3.org/2000/svg}"
LABEL_SVG = """<svg xmlns="http://www.w3.org/2000/svg"
  width="60mm" height="30mm" viewBox="0 0 60 30">
  <path d="M10 20H50" stroke="#14375e" stroke-width="2"/>
  <g id="outline"><rect width="60" height="30" fill="none" stroke="#d0006f"/></g>
</svg>
"""


def plan(job: Path, out: Path) -> dict:
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(out), "--steps", "60", "--json"]
    )
    assert result.exit_code in (0, 1), result.output
    return json.loads(result.stdout)


@pytest.fixture(scope="module")
def held(tmp_path_factory) -> tuple[Path, dict]:
    """Plates cut through and held by tabs, burgees on their liner, a knife that runs on."""
    folder = tmp_path_factory.mktemp("held")
    job = write_small_job(folder / "job")
    changed(job, "quantity = 8", 'quantity = 8\ncut = "through"')
    changed(
        job,
        "[[decal]]",
        "[tabs]\nspacing_mm = 90\nwidth_mm = 0.8\n"
        "[weed]\nalong_mm = 150\nacross_mm = 200\nborder_mm = 6\n[[decal]]",
    )
    changed(job.parent / "shop.toml", "lift_s = 0.08", "lift_s = 0.08\novercut_mm = 0.4")
    return folder / "out", plan(job, folder / "out")


@pytest.fixture(scope="module")
def shared(tmp_path_factory) -> tuple[Path, dict]:
    """Labels edge to edge: neither gutter nor bleed."""
    folder = tmp_path_factory.mktemp("shared")
    job = write_small_job(folder / "job")
    (job.parent / "label.svg").write_text(LABEL_SVG)
    head = job.read_text().split("[[decal]]")[0]
    head = "".join(line for line in head.splitlines(True) if not line.startswith("gutter_mm"))
    job.write_text(
        f'{head}gutter_mm = 0\n[[decal]]\nname = "label"\nartwork = "label.svg"\nquantity = 24\n'
        'contour = "layer:outline"\nbleed_mm = 0\nrotate = "none"\n'
    )
    return folder / "out", plan(job, folder / "out")


def paths(out: Path, layer: str) -> list[tuple[dict, np.ndarray, bool]]:
    """Attributes, points (y down) and closedness of a layer's paths."""
    root = etree.fromstring((out / "cut-01.svg").read_bytes())
    group = root.find(f"{SVG}g[@id='{layer}']")
    found = []
    for path in group if group is not None else ():
        data = path.get("d")
        numbers = [float(n) for n in data.translate(str.maketrans("MLZ", "   ")).split()]
        found.append((dict(path.attrib), np.array(numbers).reshape(-1, 2), "Z" in data))
    return found


def test_the_check_finds_nothing(held, shared):
    assert not check_folder(held[0]).found
    assert not check_folder(shared[0]).found


def test_the_summary_counts_them(held, shared):
    out, said = held
    plates = 8
    pieces = [each for each in paths(out, "through") if each[0].get("data-part") == "piece"]

    assert said["cut"]["overcut_mm"] == 0.4
    assert said["cut"]["tabs"]["count"] == len(pieces) == 4 * plates  # 290 mm round, every 90
    assert said["cut"]["weed"]["lines"] == len(paths(out, "weed")) > 2
    lines = 6 + len(pieces) + len(paths(out, "weed"))
    assert said["cut"]["strokes"] == said["cut"]["timing"]["lifts"] == lines
    labels = shared[1]["cut"]
    assert labels["contours"] == 24
    assert labels["length_mm"] + labels["shared_mm"] == pytest.approx(24 * 180, abs=0.05)
    assert labels["strokes"] < 24


def test_pieces_are_open_lines_that_name_their_copy(held):
    out, _ = held

    for layer, copies in (("through", 8), ("kiss", 6)):
        each = paths(out, layer)
        assert all(has["data-part"] == "piece" and not closed for has, _, closed in each)
        assert len({(has["data-decal"], has["data-copy"]) for has, _, _ in each}) == copies
    assert all(set(has) == {"d"} for has, _, _ in paths(out, "weed"))


def test_a_knife_that_runs_on_passes_its_start(held):
    for _, points, _ in paths(held[0], "kiss"):
        line = shapely.LineString(points)
        begun = line.interpolate(line.length - 0.4)
        assert begun.distance(shapely.Point(points[0])) < 0.001


def test_the_dxf_has_the_same_lines_open_and_closed(held, shared):
    for out in (held[0], shared[0]):
        drawing = ezdxf.readfile(out / "cut-01.dxf")
        for layer in ("kiss", "weed", "through"):
            entities = [e for e in drawing.modelspace() if e.dxf.layer == layer]
            wanted = paths(out, layer)
            assert [not e.closed for e in entities if e.dxftype() == "LWPOLYLINE"] == [
                not closed for _, _, closed in wanted
            ]
            assert all(e.has_xdata("NESTPLAN") == (layer != "weed") for e in entities)


def test_weed_lines_lie_in_a_layer_of_the_print_that_is_off(held):
    with pikepdf.open(held[0] / "print.pdf") as pdf:
        layers = {str(group.Name): group for group in pdf.Root.OCProperties.OCGs}
        off = [str(group.Name) for group in pdf.Root.OCProperties.D.OFF]
        step = layers["Weed lines"].GTS_Metadata

    assert "Weed lines" in off
    assert (str(step.GTS_ProcStepsGroup), str(step.GTS_ProcStepsType)) == (
        "/Structural",
        "/PartialCutting",
    )


def drop(layer: str, at: int) -> Callable[[etree._Element], None]:
    def hurt(root: etree._Element) -> None:
        group = root.find(f"{SVG}g[@id='{layer}']")
        group.remove(group[at])

    return hurt


def twice(layer: str, at: int) -> Callable[[etree._Element], None]:
    def hurt(root: etree._Element) -> None:
        group = root.find(f"{SVG}g[@id='{layer}']")
        again = etree.fromstring(etree.tostring(group[at]))
        group.append(again)

    return hurt


def bent(layer: str, at: int, change: Callable[[np.ndarray], np.ndarray]) -> Callable:
    """A path's points changed."""

    def hurt(root: etree._Element) -> None:
        path = root.find(f"{SVG}g[@id='{layer}']")[at]
        data = path.get("d")
        numbers = [float(n) for n in data.translate(str.maketrans("MLZ", "   ")).split()]
        points = change(np.array(numbers).reshape(-1, 2))
        said = " L".join(f"{x:.4f} {y:.4f}" for x, y in points.tolist())
        path.set("d", f"M{said}{' Z' if 'Z' in data else ''}")

    return hurt


def longer(points: np.ndarray) -> np.ndarray:
    """On over a tab, straight on."""
    step = points[-1] - points[-2]
    return np.vstack([points, points[-1] + 0.8 * step / np.hypot(*step)])


HURTS = [
    ("held", "a piece lost", drop("through", 3), Kind.PIECE_LOST),
    ("held", "a piece twice", twice("through", 3), Kind.EDGE_TWICE),
    ("held", "a piece moved", bent("through", 3, lambda p: p + (0.3, 0.2)), Kind.PIECE_STRAY),
    ("held", "a tab cut", bent("through", 3, longer), Kind.COUNT_WRONG),
    ("held", "no overcut", bent("kiss", 2, lambda p: p[:-1]), Kind.OVERCUT_WRONG),
    ("held", "a weed line lost", drop("weed", 1), Kind.COUNT_WRONG),
    (
        "held",
        "a weed line through decals",
        bent("weed", 1, lambda p: np.array([[60.0, 40.0], [500.0, 200.0]])),
        Kind.WEED_WRONG,
    ),
    ("shared", "a line lost", drop("kiss", 1), Kind.PIECE_LOST),
    ("shared", "a line twice", twice("kiss", 1), Kind.EDGE_TWICE),
    ("shared", "a line moved", bent("kiss", 1, lambda p: p + (0.1, 0.1)), Kind.PIECE_STRAY),
]


@pytest.mark.parametrize(("which", "hurt", "kind"), [(w, h, k) for w, _, h, k in HURTS])
def test_what_is_hurt_is_found(request, tmp_path, which, hurt, kind):
    folder = copytree(request.getfixturevalue(which)[0], tmp_path / "hurt")

    def change(data: bytes) -> bytes:
        root = etree.fromstring(data)
        hurt(root)
        return etree.tostring(root)

    edit(folder, "cut-01.svg", change)

    found = check_folder(folder).found
    assert kind in {each.kind for each in found}
    assert Kind.CUT_MISSING not in {each.kind for each in found}


def test_tabs_near_marks_are_found(held, tmp_path):
    """A mark is said to stand where a tab is: the check must not take the summary's word."""
    folder = copytree(held[0], tmp_path / "hurt")
    bend(folder, lambda said: said["marks"].update(clear_mm=60.0))

    assert Kind.TAB_WRONG in {each.kind for each in check_folder(folder).found}


def test_weed_lines_that_nobody_asked_for_are_found(held, tmp_path):
    folder = copytree(held[0], tmp_path / "hurt")
    bend(folder, lambda said: said["inputs"]["job"].pop("weed"))

    assert Kind.WEED_WRONG in {each.kind for each in check_folder(folder).found}


def faults_of(tmp_path: Path, *lines: str, **changes: str) -> str:
    job = write_small_job(tmp_path)
    for old, new in changes.items():
        changed(job, {"gutter": "gutter_mm = 4", "plates": "quantity = 8"}[old], new)
    changed(job, "[[decal]]", "\n".join([*lines, "[[decal]]"]))
    with pytest.raises((Fault, Faults)) as error:
        read_job(job)
    faults = error.value.faults if isinstance(error.value, Faults) else [error.value]
    return "\n".join(f"{fault.what} | {fault.where} | {fault.do}" for fault in faults)


THROUGH = 'quantity = 8\ncut = "through"'


@pytest.mark.parametrize(
    ("lines", "changes", "said"),
    [
        (["[tabs]", "spacing_mm = 80"], {}, "no decal has one"),
        (
            ["[tabs]", "spacing_mm = 80"],
            {"plates": THROUGH, "gutter": "gutter_mm = 0"},
            "write a gutter_mm of 2 or more",
        ),
        (
            ["[tabs]", "spacing_mm = 20", "width_mm = 8"],
            {"plates": THROUGH},
            "write 32 or more, or a smaller width_mm",
        ),
        (["[tabs]"], {"plates": THROUGH}, "spacing_mm is missing"),
        (["[weed]"], {}, "weed says nothing"),
        (
            ["[weed]", "along_mm = 30"],
            {"gutter": "gutter_mm = 35"},
            "along_mm is 30, no more than gutter_mm, 35",
        ),
        (["[weed]", "border_mm = 1"], {}, "write 2 or more"),
        (["[weed]", "along = 300"], {}, "along_mm"),
    ],
)
def test_wishes_that_cannot_be_are_named_with_what_would_help(tmp_path, lines, changes, said):
    assert said in faults_of(tmp_path, *lines, **changes)
