"""Finding the files: missing, elsewhere, unreadable, too large; all decals' faults at once."""

import os
from dataclasses import replace

import numpy as np
import pytest

from nestplan.artwork import find, load_artwork
from nestplan.artwork import load as loading
from nestplan.faults import Fault, Faults
from tests.artwork.handmade import decal, disc, job, loaded, png, svg

PLATE = svg('<rect width="60" height="40"/>')


def fault(folder, artwork: str) -> Fault:
    with pytest.raises(Fault) as caught:
        load_artwork(job(folder, {"name": "berth plate", "artwork": artwork}))
    assert caught.value.code == 2
    assert caught.value.where == 'regatta.toml, [[decal]] 1 "berth plate", artwork'
    return caught.value


def test_a_missing_file_is_answered_with_those_that_are_there(tmp_path):
    (tmp_path / "art").mkdir()
    (tmp_path / "art" / "berth_plate.svg").write_text(PLATE)

    found = fault(tmp_path, "art/berthplate.svg")

    assert found.what == "there is no file 'art/berthplate.svg'"
    assert "art has berth_plate.svg" in found.do


def test_a_missing_folder_is_named(tmp_path):
    assert "there is no folder 'art'" in fault(tmp_path, "art/plate.svg").do


@pytest.mark.parametrize("name", ["plate.eps", "plate.psd", "plate", "plate.svg.gz", "plate.svgz"])
def test_other_kinds_of_files_are_refused_by_name(tmp_path, name):
    (tmp_path / name).write_bytes(b"x")

    assert "none of .svg, .pdf, .png, .jpg" in fault(tmp_path, name).what


def test_endings_may_be_written_large(tmp_path):
    assert decal(tmp_path, PLATE, "PLATE.SVG", contour="outline").contour.width_mm == 60


def test_artwork_outside_the_job_s_folder_is_refused(tmp_path):
    home = tmp_path / "job"
    home.mkdir()
    (tmp_path / "plate.svg").write_text(PLATE)

    for path in ("../plate.svg", str(tmp_path / "plate.svg"), "../job/../plate.svg"):
        assert "outside the job's folder" in fault(home, path).what


def test_a_link_that_leads_outside_is_refused(tmp_path):
    home = tmp_path / "job"
    home.mkdir()
    (tmp_path / "plate.svg").write_text(PLATE)
    (home / "plate.svg").symlink_to(tmp_path / "plate.svg")
    (home / "art").symlink_to(tmp_path)

    assert "outside the job's folder" in fault(home, "plate.svg").what
    assert "outside the job's folder" in fault(home, "art/plate.svg").what


def test_a_link_inside_the_folder_is_followed(tmp_path):
    (tmp_path / "real.svg").write_text(PLATE)
    (tmp_path / "plate.svg").symlink_to(tmp_path / "real.svg")

    assert load_artwork(job(tmp_path, {"name": "p", "artwork": "plate.svg"})).decals


def test_a_job_folder_that_is_itself_a_link_is_fine(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "plate.svg").write_text(PLATE)
    (tmp_path / "job").symlink_to(tmp_path / "real")

    assert load_artwork(job(tmp_path / "job", {"name": "p", "artwork": "plate.svg"})).decals


def test_links_in_a_ring_are_refused(tmp_path):
    (tmp_path / "a.svg").symlink_to(tmp_path / "b.svg")
    (tmp_path / "b.svg").symlink_to(tmp_path / "a.svg")

    assert "cannot be followed" in fault(tmp_path, "a.svg").what


@pytest.mark.parametrize("name", ["pla\0te.svg", "x" * 5000 + ".svg"])
def test_names_no_disk_knows_are_refused(tmp_path, name):
    """The job room refuses most of them already."""
    whole = job(tmp_path, {"name": "plate", "artwork": "plate.svg"})
    order = whole.order.decal[0].model_copy(update={"artwork": name})
    decals = whole.order.model_copy(update={"decal": [order]})

    with pytest.raises(Fault, match="cannot be followed"):
        load_artwork(replace(whole, order=decals))


def test_a_folder_is_no_artwork(tmp_path):
    (tmp_path / "plate.svg").mkdir()

    assert "is no file" in fault(tmp_path, "plate.svg").what


def test_a_pipe_is_no_artwork(tmp_path):
    os.mkfifo(tmp_path / "plate.svg")

    assert "is no file" in fault(tmp_path, "plate.svg").what


def test_an_unreadable_file_is_told(tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    (tmp_path / "plate.svg").write_text(PLATE)
    monkeypatch.setattr("pathlib.Path.open", refuse)

    with pytest.raises(Fault, match="Permission denied") as caught:
        load_artwork(job(tmp_path, {"name": "p", "artwork": "plate.svg"}))

    assert caught.value.where == "plate.svg"


def test_a_file_too_large_is_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr(find, "FILE_MOST", 1000)

    with pytest.raises(Fault, match="larger than"):
        loaded(tmp_path, PLATE + " " * 1000)


def test_every_decal_s_faults_come_together(tmp_path):
    (tmp_path / "open.svg").write_text(svg('<path id="cut" d="M1 1h9v9"/>'))
    (tmp_path / "good.svg").write_text(PLATE)
    orders = [
        {"name": "a", "artwork": "gone.svg"},
        {"name": "b", "artwork": "good.svg", "contour": "outline"},
        {"name": "c", "artwork": "open.svg", "contour": "layer:cut"},
        {"name": "d", "artwork": "plate.pdf"},
    ]

    with pytest.raises(Faults) as caught:
        load_artwork(job(tmp_path, *orders))

    assert ["no file" in f.what or "open" in f.what or "neither" in f.what
            for f in caught.value.each] == [True] * 3  # fmt: skip


def test_decals_come_in_the_order_of_the_job_with_what_it_orders(tmp_path):
    (tmp_path / "plate.svg").write_text(PLATE)
    (tmp_path / "disc.png").write_bytes(png(disc(50)))
    orders = [
        {"name": "b", "artwork": "plate.svg", "quantity": 7, "cut": "through", "rotate": "free"},
        {"name": "a", "artwork": "disc.png", "width_mm": 20, "bleed_mm": 1.5, "contour": "page"},
    ]

    found = load_artwork(job(tmp_path, *orders)).decals

    assert [(d.name, d.quantity, d.cut, d.rotate, d.bleed_mm, d.source) for d in found] == [
        ("b", 7, "through", "free", 0.0, "plate.svg"),
        ("a", 1, "kiss", "quarter", 1.5, "disc.png"),
    ]


def test_a_contour_of_too_many_points_is_thinned_and_said(tmp_path, monkeypatch):
    monkeypatch.setattr(loading, "POINTS_MOST", 500)
    angle = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    points = " ".join(f"{50 + 25 * np.cos(a):.6f},{30 + 25 * np.sin(a):.6f}" for a in angle)

    art = loaded(tmp_path, svg(f'<polygon id="cut" points="{points}"/>'), contour="layer:cut")

    assert len(art.decals[0].contour.rings[0]) < 500
    assert any("thinned by 0.02 mm, from 2001" in note.text for note in art.notes)


def test_a_contour_that_cannot_be_thinned_is_out_of_reach(tmp_path, monkeypatch):
    monkeypatch.setattr(loading, "POINTS_MOST", 50)
    teeth = "".join(f"l.5 {9 if k % 2 else -9}" for k in range(100))

    with pytest.raises(Fault, match="points, even when thinned") as caught:
        loaded(tmp_path, svg(f'<path id="cut" d="M5 20{teeth}v30h-50z"/>'), contour="layer:cut")

    assert caught.value.code == 3


@pytest.mark.parametrize("contour", ["layer:cut", "outline", "offset:1"])
def test_contours_are_centred_on_their_bounding_box(tmp_path, contour):
    art = svg('<path id="cut" d="M13 11h41v7l-9 22h-20z"/>')

    left, bottom, right, top = decal(tmp_path, art, contour=contour).contour.bounds_mm

    assert (left + right, bottom + top) == pytest.approx((0, 0), abs=1e-9)
