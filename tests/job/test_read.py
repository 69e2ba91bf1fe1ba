"""A right job comes out as it was written, names resolved."""

from decimal import Decimal

import pytest

from nestplan.job import machines_of, read_job
from tests.job.sample import JOB, SHOP, changed, faults_in, read, write


def test_names_are_resolved(tmp_path):
    job = read(tmp_path)

    assert job.roll.width_mm == 1370
    assert job.setup.name == "pair"
    assert job.printer.name == "printer"
    assert job.cutter.name == "cutter"
    assert job.folder == tmp_path
    assert [decal.name for decal in job.order.decal] == ["berth plate", "club burgee"]


def test_a_combined_device_is_printer_and_cutter(tmp_path):
    job = read(
        tmp_path,
        changed(changed(JOB, '"pair"', '"combined"'), "white gloss 1370", "matt 760"),
    )

    assert job.printer is job.cutter
    assert job.setup.enters == "trailing"
    assert machines_of(job.shop, job.shop.setup[0])[1].name == "cutter"


def test_money_is_decimal_as_written_and_lengths_are_floats(tmp_path):
    job = read(tmp_path, shop=changed(SHOP, "price = 5.40", "price = 0.1"))

    assert job.roll.price == Decimal("0.1")
    assert job.shop.cost.labour_per_h == Decimal("34.00")
    assert str(job.shop.cost.labour_per_h) == "34.00"
    for length in (job.order.gutter_mm, job.order.decal[1].height_mm, job.roll.left_m):
        assert type(length) is float
    assert job.order.decal[1].height_mm == 60.5
    assert type(job.roll.width_mm) is float  # written without a point


def test_what_is_left_out_has_the_usual_value(tmp_path):
    decal = read(tmp_path).order.decal[0]

    assert (decal.cut, decal.contour, decal.bleed_mm, decal.rotate) == (
        "kiss",
        "outline",
        2.0,
        "quarter",
    )
    assert decal.height_mm is None


def test_a_shop_may_be_shared_from_the_folder_above(tmp_path):
    folder = tmp_path / "regatta"
    folder.mkdir()
    job = write(folder, changed(JOB, "shop.toml", "../shop.toml"))
    (folder / "shop.toml").rename(tmp_path / "shop.toml")

    assert read_job(job).shop_path.resolve() == tmp_path / "shop.toml"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_any_editor_will_do(tmp_path, end, mark):
    path = write(tmp_path)
    path.write_bytes(mark + JOB.replace("\n", end).encode())

    assert read_job(path).order.name == "harbour regatta"


def test_artwork_may_be_a_link_within_the_folder(tmp_path):
    (tmp_path / "art").mkdir()
    (tmp_path / "plate.svg").write_text("<svg/>")
    (tmp_path / "art" / "berth_plate.svg").symlink_to("../plate.svg")

    assert faults_in(write(tmp_path)) == []


@pytest.mark.parametrize(
    "contour",
    ["layer:outline", "layer: cut line ", "colour:#E6007e", "page", "outline", "offset:-1.25"],
)
def test_each_form_of_contour_is_read(tmp_path, contour):
    job = read(tmp_path, changed(JOB, "offset:2.0", contour))

    assert job.order.decal[1].contour == contour


@pytest.mark.parametrize("where", ["width_mm = 90\n", "height_mm = 60.5\n"])
def test_the_artworks_own_size_needs_no_key(tmp_path, where):
    assert faults_in(write(tmp_path, changed(JOB, where, ""))) == []


def test_ranges_include_their_ends(tmp_path):
    job = changed(changed(JOB, "quantity = 96", "quantity = 100000"), "= 90", "= 50000.0")
    job = changed(changed(job, "gutter_mm = 4.0", "gutter_mm = 0"), "= 24", "= 1")

    assert faults_in(write(tmp_path, job)) == []


def test_a_spacing_of_exactly_a_mark_and_its_clear_zones_will_do(tmp_path):
    assert (
        faults_in(write(tmp_path, shop=changed(SHOP, "spacing_mm = 400", "spacing_mm = 14"))) == []
    )


def test_an_empty_roll_may_stay_on_the_shelf(tmp_path):
    assert faults_in(write(tmp_path, shop=changed(SHOP, "left_m = 21", "left_m = 0"))) == []


def test_a_cutter_that_lists_no_tools_cuts_everything(tmp_path):
    line = 'tools = { kiss = "blade 1", through = "blade 2" }\n'

    assert faults_in(write(tmp_path, shop=changed(SHOP, line, ""))) == []
