"""From a scan of the sheet to the verdict: the same as from a table."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from nestplan.faults import Fault
from nestplan.fit import fit_sheets
from nestplan.fit.fit_notes import hidden
from tests.fit.handmade import write_plan
from tests.fit.printer import Printer, read_cut
from tests.fit.scanner import Device, mark_area, picture, save

DPI, FINE = 100, 4
RADIUS_MM = 3.0


def scan(
    plan: Path, path: Path, printer: Printer, *, dpi: int | None = DPI, mirrored=False
) -> None:
    """A flat bed's picture of frame 1: its marks and nothing else, turned by 3 degrees."""
    marks = np.array(list(read_cut((plan / "cut-01.svg").read_bytes()).marks.values()))
    draw_scan(marks, path, printer, mirrored=mirrored)


def draw_scan(marks: np.ndarray, path: Path, printer: Printer, *, mirrored=False) -> None:
    """The same of any marks (n, 2)."""
    way = np.exp(1j * np.radians(3.0)) * (printer.at(marks) @ (1, 1j))
    seen = np.column_stack([way.real, way.imag]) + (60, 30)
    if mirrored:
        seen[:, 0] = 680 - seen[:, 0]
    size = np.array([720.0, 520.0])
    px = DPI / 25.4 * FINE
    whole = tuple((size * px / FINE).astype(int) * FINE)
    sheet = Image.new("L", whole, 238)
    draw = ImageDraw.Draw(sheet)
    for x, y in seen:
        x, y, r = x * px, whole[1] - y * px, RADIUS_MM * px
        draw.ellipse((x - r, y - r, x + r, y + r), fill=30)
    small = sheet.resize((sheet.width // FINE, sheet.height // FINE), Image.Resampling.BOX)
    rng = np.random.default_rng(1)
    noisy = np.asarray(small.filter(ImageFilter.GaussianBlur(0.7)), float)
    noisy = np.clip(noisy + rng.normal(0, 3, noisy.shape), 0, 255).astype(np.uint8)
    Image.fromarray(noisy).save(path, dpi=(DPI, DPI))


def test_a_scan_is_judged_as_its_marks_would_be(plan, tmp_path):
    """Stretched by 0.3 % one way: the file is corrected by what a similarity leaves of it."""
    printer = Printer(size_mm=(600, 400), along=0.003)
    scan(plan, tmp_path / "scan.png", printer)

    fit = fit_sheets(plan, tmp_path / "scan.png", frame=None, version="test")

    each = fit.frames[0]
    assert (fit.measured.kind, each.frame.index) == ("picture", 1)
    assert each.verdict == "cut it corrected"
    assert each.fitted.choice.kind == "affine"
    # the marks as found, against where the printer put them: apart from turn and shift the same
    marks = read_cut((plan / "cut-01.svg").read_bytes()).marks
    true = printer.at(np.array(list(marks.values())))
    found = each.fitted.printed_mm
    apart = [np.hypot(*(a[:, None] - a[None]).transpose(2, 0, 1)) for a in (true, found)]
    np.testing.assert_allclose(apart[1], apart[0], atol=0.06)


def test_half_a_sheet_is_named_as_such(plan, tmp_path):
    """The first two of four pairs, at the file's own resolution."""
    scan(plan, tmp_path / "scan.png", Printer(size_mm=(600, 400)))
    with Image.open(tmp_path / "scan.png") as whole:
        half = whole.crop((0, int(0.47 * whole.height), whole.width, whole.height))
        half.save(tmp_path / "half.png", dpi=(DPI, DPI))

    fit = fit_sheets(plan, tmp_path / "half.png", frame=None, version="test")

    assert fit.exit_code == 3
    assert "only part of a sheet: 4 of the 8 marks of frame 1" in fit.frames[0].judged.why
    assert fit.frames[0].cut is None


def test_the_sheet_of_another_job_is_refused(plan, tmp_path):
    """Marks as many and of the same kind, at other heights along the same film."""
    other = write_plan(tmp_path / "other")
    svg = other / "cut-01.svg"
    marks = read_cut(svg.read_bytes()).marks
    for shift in ((0, 9, -14, 22, -9, 13, 18, 0), (0, 0, 40, 40, -30, -30, 0, 0)):
        moved = {n: p + (0, s) for (n, p), s in zip(marks.items(), shift, strict=True)}
        draw_scan(
            np.array(list(moved.values())), tmp_path / "scan.png", Printer(size_mm=(600, 400))
        )

        fit = fit_sheets(plan, tmp_path / "scan.png", frame=None, version="test")

        assert fit.exit_code == 3
        assert fit.frames[0].cut is None


def test_a_scan_of_another_frame_than_said_is_told(plan, tmp_path):
    scan(plan, tmp_path / "scan.png", Printer(size_mm=(600, 400)))

    fit = fit_sheets(plan, tmp_path / "scan.png", frame=2, version="test")

    assert fit.exit_code != 0
    assert fit.frames[0].cut is None


def test_a_photograph_of_another_frame_than_said_is_refused(plan, tmp_path):
    """Its perspective is taken from the frame that was said, and does not go with it."""
    device = Device(dpi=60, keystone_deg=(3, -2), distance_mm=1200, tilt_deg=1.0)
    marks = np.array(list(read_cut((plan / "cut-01.svg").read_bytes()).marks.values()))
    levels, _ = picture(marks, mark_area("disc", 6.0, 1.0, 0.0), (600, 420), device)
    save(levels, tmp_path / "photo.jpg", None, quality=90)

    try:
        fit = fit_sheets(plan, tmp_path / "photo.jpg", frame=2, version="test")
    except Fault as fault:
        assert fault.code != 0
    else:
        assert fit.exit_code != 0
        assert fit.frames[0].cut is None


def test_a_mirrored_scan_is_refused(plan, tmp_path):
    """Somebody scanned a print through its liner."""
    scan(plan, tmp_path / "scan.png", Printer(size_mm=(600, 400)), mirrored=True)

    fit = fit_sheets(plan, tmp_path / "scan.png", frame=None, version="test")

    assert fit.verdict == "cannot be judged"
    assert "mirror" in fit.frames[0].judged.why


@pytest.mark.parametrize(
    ("hides", "followed"),
    [
        ("nothing", {"none", "turn", "similarity", "affine", "strips"}),
        ("size", {"similarity", "affine", "strips"}),
        ("perspective", {"affine", "strips"}),
    ],
)
def test_what_a_picture_hides_must_be_taken_up_by_the_cutter(hides, followed):
    """Else the cut would be off by just that, and nobody would know."""
    kinds = ("none", "turn", "similarity", "affine", "strips")

    assert {kind for kind in kinds if hidden(kind, hides) is None} == followed


def test_a_picture_without_a_resolution_is_measured_by_its_marks(plan, tmp_path):
    """A similarity takes the size up by itself, and the notes say that it is hidden."""
    printer = Printer(size_mm=(600, 400), along=0.004, across=0.004)
    scan(plan, tmp_path / "scan.png", printer)
    with Image.open(tmp_path / "scan.png") as held:
        Image.fromarray(np.asarray(held)).save(tmp_path / "bare.png")

    each = fit_sheets(plan, tmp_path / "bare.png", frame=None, version="test").frames[0]

    assert (each.verdict, each.frame.index) == ("cut it", 1)
    assert any("larger or smaller cannot be told" in note for note in each.notes)
