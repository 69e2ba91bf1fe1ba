"""White made from the art: its shape, how it is printed, and that a check sees it hurt."""

import hashlib
import io
import json
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from math import pi

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from PIL import Image, ImageDraw

from nestplan.artwork.load import load_artwork
from nestplan.check import Kind, check_folder
from nestplan.clock import SetupTimes
from nestplan.cost import Taken, account_of, pieces_of
from nestplan.faults import Fault, Faults
from nestplan.files.layers import ART_WHITE
from nestplan.job import read_job, starter_files
from nestplan.marks import white_fields
from nestplan.plan import plan_job
from tests.check.conftest import write

BUOY = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
<circle cx="30" cy="30" r="20" fill="#0b4f7a"/><circle cx="30" cy="30" r="5" fill="#fff"/>
<rect x="4" y="4" width="6" height="6" fill="#d22" fill-opacity="0.3"/></svg>"""
RING = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
<circle cx="30" cy="30" r="15" fill="none" stroke="#0b4f7a" stroke-width="10"/>
<path d="M4 56 H56" stroke="#222" stroke-width="0.3"/></svg>"""
PLATE = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">
<rect x="-5" y="-5" width="70" height="50" fill="#e8b100"/></svg>"""
BERTH = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">
<circle cx="12" cy="20" r="8" fill="#0b4f7a"/>
<text x="24" y="26" font-size="18" data-row="berth">A1</text></svg>"""
ART = {"buoy.svg": BUOY, "ring.svg": RING, "plate.svg": PLATE, "berth.svg": BERTH}


def a_job(folder, decals, head='white = "under"', base="clear", printer=True):
    """A job of these decals (tables in text) in the shop that a new user gets."""
    shop = starter_files()["shop.toml"].decode()
    shop = shop.replace('# base = "clear"', f'base = "{base}" #')
    if printer:
        shop = shop.replace("# prints_white = true", "prints_white = true")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text(shop)
    for name, text in ART.items():
        (folder / name).write_text(text)
    (folder / "berths.csv").write_text("berth\nA1\nB22\n")
    names = 'name = "windows"\nshop = "shop.toml"\nroll = "white gloss 1370"\nsetup = "pair"\n'
    rows = "".join(f"[[decal]]\n{decal}\n" for decal in decals)
    (folder / "job.toml").write_text(f"{names}{head}\n{rows}")
    return folder / "job.toml"


def decal(art, more="", quantity="quantity = 2\n"):
    return (
        f'name = "{art} {hashlib.sha256(more.encode()).hexdigest()[:3]}"\nartwork = "{art}.svg"\n'
        f'{quantity}contour = "page"\n{more}'
    )


def loaded(path):
    return load_artwork(read_job(path))


@pytest.mark.parametrize("choke", [0.0, 0.2, 1.0])
def test_a_disc_has_a_disc_of_white_smaller_by_the_choke(tmp_path, choke):
    """White paint is art, and what is less than half opaque has no white below it."""
    path = a_job(tmp_path, [decal("buoy", f"white_choke_mm = {choke}")])
    (shape,) = loaded(path).decals[0].white.shapes

    assert shape.area == pytest.approx(pi * (20 - choke) ** 2, rel=0.001)
    meant = shapely.Point(0, 0).buffer(20 - choke, quad_segs=64)
    assert shapely.hausdorff_distance(shape, meant) < 0.03


def test_a_picture_of_pixels_has_white_to_its_soft_edge(tmp_path):
    path = a_job(tmp_path, [decal("pixels", "width_mm = 50").replace("pixels.svg", "pixels.png")])
    large = Image.new("RGBA", (2000, 2000), (12, 80, 120, 0))
    ImageDraw.Draw(large).ellipse((200, 200, 1799, 1799), fill=(12, 80, 120, 255))
    large.reduce(4).save(tmp_path / "pixels.png")

    (shape,) = loaded(path).decals[0].white.shapes

    assert shape.area == pytest.approx(pi * 19.8**2, rel=0.002)


def test_holes_grow_lines_that_are_too_thin_go_and_it_is_said(tmp_path):
    art = loaded(a_job(tmp_path, [decal("ring", "white_choke_mm = 0.5")]))
    (shape,) = art.decals[0].white.shapes

    assert shape.area == pytest.approx(pi * (19.5**2 - 10.5**2), rel=0.003)
    (note,) = (each for each in art.notes if each.where.endswith("white"))
    assert note.level == "look"
    assert float(note.text.split()[0]) == pytest.approx(52 * 0.3, rel=0.05)


def test_art_that_fills_the_bleed_has_white_to_the_bleed_but_the_choke(tmp_path):
    path = a_job(tmp_path, [decal("plate", "bleed_mm = 2\nwhite_choke_mm = 0.3")])
    found = loaded(path).decals[0]
    (shape,) = found.white.shapes

    assert shape.covers(found.contour.region)
    assert shape.symmetric_difference(found.inked.buffer(-0.3)).area < 0.05


def test_each_row_has_white_for_its_own_text(tmp_path):
    path = a_job(tmp_path, [decal("berth", 'rows = "berths.csv"\nwhite_choke_mm = 0', "")])
    one, two = loaded(path).decals[0].white.shapes

    assert two.area > one.area * 1.2
    disc = pi * 8**2
    assert one.area > disc + 20


def test_ink_counts_the_white_at_its_own_price(tmp_path):
    job = read_job(a_job(tmp_path, [decal("buoy", "white_choke_mm = 0")]))
    decals = load_artwork(job).decals
    cost = job.shop.cost.model_copy(
        update={"white_ml_per_m2": Decimal(20), "white_per_ml": Decimal("0.30")}
    )
    bare = (replace(decals[0], white=None),)

    def ink(decals, twice=False):
        pieces = pieces_of(decals, twice=twice, tape_beyond_mm=5.0)
        times = SetupTimes(name="", print_s=0, handling_s=0, lag_s=0, cut_s=0, one_run_s=0,
                           runs_per_shift=0)  # fmt: skip
        run = Taken(pieces=pieces, ordered=(1000,), planned=(1000,), film_mm=1.0, times=times)
        shop = job.shop.model_copy(update={"cost": cost})
        return account_of(replace(job, shop=shop), run).of(kind="ink")

    white = ink(decals) - ink(bare)
    assert float(white) == pytest.approx(1000 * pi * 0.02**2 * 20 * 0.30, rel=0.001)
    again = ink(decals, twice=True) - ink(decals)
    assert again == pytest.approx(ink(bare), abs=Decimal("0.02"))
    assert ink(bare) > 0


@pytest.mark.parametrize(
    ("head", "more", "base", "printer", "words"),
    [
        ('white = "over"', 'white = "under"', "clear", True, "one order of inks"),
        ('white = "under"', "", "clear", False, "prints no white"),
        ('white = "over"', "", "dark", True, "seen through the film"),
        ('white = "between"', "", "white", True, "seen through the film"),
    ],
)
def test_white_that_cannot_be_is_refused(tmp_path, head, more, base, printer, words):
    path = a_job(tmp_path, [decal("plate"), decal("buoy", more)], head, base, printer)

    with pytest.raises((Fault, Faults)) as caught:
        read_job(path)

    assert words in str(caught.value)


@pytest.fixture(scope="module", params=["under", "over", "between"])
def plan(request, tmp_path_factory):
    """A run of every kind of art, and its folder."""
    folder = tmp_path_factory.mktemp(request.param)
    decals = [decal("plate", "bleed_mm = 2"), decal("buoy"), decal("ring", 'white = "none"')]
    decals.append(decal("berth", 'rows = "berths.csv"', ""))
    over = "mirrored = true\n" if request.param == "over" else ""
    run = plan_job(a_job(folder / "job", decals, f'{over}white = "{request.param}"'), steps=10)
    return request.param, run, write(run, folder / "plan")


def test_the_check_finds_nothing_against_it(plan):
    order, _, folder = plan
    found = check_folder(folder)

    assert found.found == ()
    assert any("inside its art by the choke" in claim for claim in found.holds)
    said = json.loads((folder / "summary.json").read_text())
    assert [each.get("white", {}).get("order") for each in said["decals"]] == [
        order,
        order,
        None,
        order,
    ]


def test_no_screen_shows_it_and_the_layer_says_its_order(plan):
    """Rendered by pdfium with and without the white: the same picture."""
    order, _, folder = plan
    with pikepdf.open(folder / "print.pdf") as pdf:
        names = [str(each.Name) for each in pdf.Root.OCProperties.OCGs]
        assert ART_WHITE[order].name in names
        spaces = {
            tuple(float(v) for v in each[3].C1)
            for each in pdf.objects
            if isinstance(each, pikepdf.Array) and len(each) == 4 and each[1:2] == ["/White"]
        }
        assert spaces <= {(0.0, 0.0, 0.0, 0.0)}
        for each in pdf.Root.OCProperties.OCGs:
            if each.Name == ART_WHITE[order].name:
                pdf.Root.OCProperties.D.OFF.append(each)
        held = io.BytesIO()
        pdf.save(held)
    seen = []
    for data in ((folder / "print.pdf").read_bytes(), held.getvalue()):
        document = pypdfium2.PdfDocument(data)
        seen.append(document[0].render(scale=0.6).to_numpy().astype(int))
        document.close()
    off = np.abs(seen[0] - seen[1])
    assert off.max() <= 4  # at edges: steps of blending in 8 bits
    assert off.mean() < 0.01


@pytest.mark.skipif(shutil.which("gs") is None, reason="needs a separating renderer")
def test_a_device_that_separates_has_all_art_and_all_white(plan, tmp_path):
    """Separations by Ghostscript (Debian package), with and without the white."""
    _, run, folder = plan
    bare = tmp_path / "bare.pdf"
    with pikepdf.open(folder / "print.pdf") as pdf:
        for name, form in pdf.pages[0].Resources.XObject.items():
            if name.startswith("/White"):
                form.write(b"")
        pdf.save(bare)
    plates = {}
    for name, path in (("with", folder / "print.pdf"), ("without", bare)):
        to = tmp_path / f"{name}%d.tif"
        asked = [
            "-q",
            "-dSAFER",
            "-dNOPAUSE",
            "-dBATCH",
            "-sDEVICE=tiffsep",
            "-r50",
            "-o",
            to,
            path,
        ]
        subprocess.run(["gs", *asked], check=True, timeout=60, capture_output=True)
        for ink in ("Cyan", "Magenta", "Yellow", "Black", "White"):
            with Image.open(tmp_path / f"{name}1({ink}).tif") as plate:
                plates[name, ink] = 1 - np.asarray(plate.convert("L")) / 255
    for ink in ("Cyan", "Magenta", "Yellow", "Black"):
        off = np.abs(plates["with", ink] - plates["without", ink])
        assert off.max() < 0.02
    more = (plates["with", "White"] - plates["without", "White"]).sum() * (25.4 / 50) ** 2
    copies = zip(run.artwork.decals, run.nest.planned, strict=True)
    meant = sum(decal.white.area_mm2 * n for decal, n in copies if decal.white)
    assert more == pytest.approx(meant, rel=0.06)  # pixels of half a millimetre, touched or not


def test_white_that_comes_last_leaves_the_marks_bare(plan):
    order, run, _ = plan
    frame = run.marks.frames[0]
    white = shapely.union_all(white_fields(run.marks, frame, order))
    for mark in frame.marks:
        black = run.marks.outline.moved(mark.x_mm, mark.y_mm).region
        assert white.covers(black) is (order != "over")
        if order == "over":
            assert white.distance(black) == pytest.approx(0.2, abs=0.02)
            assert white.intersects(black.buffer(0.3))


def test_the_time_counts_the_passes(plan):
    order, run, _ = plan
    mode = run.job.printer.mode[0]
    assert mode.white_passes == 0
    assert any("no passes of white" in note.text for note in run.notes)
    turns = run.times.printing.turns
    plain = sum(
        np.ceil(frame.length_mm / mode.swath_mm * mode.passes - 1e-9) + mode.passes - 1
        for frame in run.marks.frames
    )
    assert bool(turns > 1.9 * plain) == (order == "between")


def grown_by(factor):
    """The white of the first decal larger or smaller about the decal's middle."""

    def change(form):
        form.write(b"q %f 0 0 %f 0 0 cm\n" % (factor, factor) + form.read_bytes() + b"\nQ")
        box = [float(value) * max(factor, 1) for value in form.BBox]
        form.BBox = pikepdf.Array(box)

    return change


def knocking(form):
    form.Resources.ExtGState["/Multiply"].BM = pikepdf.Name.Normal


def overprinting(form):
    form.Resources.ExtGState["/Multiply"].op = True


def away(form):
    form.write(b"")


@pytest.mark.parametrize("plan", ["over"], indirect=True)
@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (grown_by(1.05), Kind.WHITE_ART),
        (grown_by(0.95), Kind.WHITE_ART),
        (away, Kind.WHITE_ART),
        (knocking, Kind.LAYER_WRONG),
        (overprinting, Kind.LAYER_WRONG),
    ],
)
def test_white_that_is_hurt_is_found(plan, tmp_path, change, kind):
    _, _, folder = plan
    folder = shutil.copytree(folder, tmp_path / "plan")
    path = folder / "print.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf.pages[0].Resources.XObject["/White2"])
        pdf.save(path)
    said = json.loads((folder / "summary.json").read_text())
    said["files"]["print.pdf"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (folder / "summary.json").write_text(json.dumps(said))

    found = check_folder(folder).found

    kinds = {each.kind for each in found}
    assert kind in kinds
    assert kinds <= {kind, Kind.LOOKS_WRONG}  # white that is no ink covers the art on a screen
    if kind is Kind.WHITE_ART:
        assert all("buoy" in each.where for each in found)


@pytest.mark.parametrize("plan", ["over"], indirect=True)
def test_another_order_than_the_job_asks_is_found(plan, tmp_path):
    order, _, folder = plan
    folder = shutil.copytree(folder, tmp_path / "plan")
    said = json.loads((folder / "summary.json").read_text())
    said["inputs"]["job"]["white"] = "between" if order == "under" else "under"
    (folder / "summary.json").write_text(json.dumps(said))

    assert {Kind.WHITE_ART, Kind.LAYER_WRONG} <= {each.kind for each in check_folder(folder).found}
