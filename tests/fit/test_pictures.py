"""From a scan of the sheet to the verdict: the same as from a table."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from nestplan.fit import fit_sheets
from nestplan.fit.fit_notes import hidden
from tests.fit.printer import Printer, read_cut

DPI, FINE = 100, 4
RADIUS_MM = 3.0


def scan(
    plan: Path, path: Path, printer: Printer, *, dpi: int | None = DPI, mirrored=False
) -> None:
    """A flat bed's picture of frame 1: its marks and nothing else, turned by 3 degrees."""
    marks = np.array(list(read_cut((plan / "cut-01.svg").read_bytes()).marks.values()))
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
