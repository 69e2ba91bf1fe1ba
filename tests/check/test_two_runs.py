"""Files of two runs in one folder: what a writer's own mistake would look like.

One file comes from a run that differs in one thing. No script touches it, so nothing in
it is odd by itself: only the other files can tell.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from reportlab.pdfgen.canvas import Canvas

from nestplan.artwork import Decal, Picture
from nestplan.check import Findings, Kind, check_folder
from nestplan.files.fonts import BODY_BOLD
from nestplan.files.run import Run
from nestplan.files.writer import run_files
from tests.check.edit import edit, kinds
from tests.check.grid import grid_run
from tests.files.handmade import PLATE, _art_box_mm, _blank


@pytest.fixture
def mixed(folder) -> Callable[..., Findings]:
    """The findings where files of another run take the place of the folder's own."""

    def check(run: Run, *names: str) -> Findings:
        files = run_files(run)
        for name in names:
            edit(folder, name, lambda _, name=name: files[name])
        return check_folder(folder)

    return check


def with_decals(run: Run, *decals: Decal) -> Run:
    """The run with other decals."""
    return replace(run, artwork=replace(run.artwork, decals=decals))


def plate_that_says(words: str, *, size_mm: float, colour: float = 0.1) -> Picture:
    """A plate of one colour with a line of white words."""
    box = _art_box_mm(PLATE)
    pdf, held = _blank(box)
    _plate(pdf, words, size_mm, colour)
    pdf.save()
    return Picture(pdf=held.getvalue(), box_mm=box)


def _plate(pdf: Canvas, words: str, size_mm: float, colour: float) -> None:
    pdf.setFillColorRGB(colour, 0.3, 0.6)
    pdf.rect(-60, -50, 120, 100, stroke=0, fill=1)
    pdf.setFillColorRGB(1, 1, 1)
    pdf.setFont(BODY_BOLD, size_mm)
    pdf.drawString(-35, -20, words)


def test_a_print_whose_pictures_are_exchanged_names_both_decals(mixed):
    run = grid_run(2, 2)
    one, other = run.artwork.decals
    exchanged = with_decals(
        run, replace(one, picture=other.picture), replace(other, picture=one.picture)
    )

    found = mixed(exchanged, "print.pdf").found
    # the other picture may have fewer pixels for its place, which is found besides
    found = [each for each in found if each.kind is not Kind.PICTURE_COARSE]

    assert {each.kind for each in found} <= {Kind.PROOF_ART, Kind.LOOKS_SWAPPED}
    assert {each.where for each in found} == {
        "print.pdf, berth plate, all 2 copies",
        "print.pdf, club burgee, all 2 copies",
    }


@pytest.mark.parametrize("size_mm", [4.0, 12.0])
def test_another_number_on_a_plate_is_seen(folder, size_mm):
    """A boat's number of 4 mm type: capitals of 3 mm, strokes of half a millimetre."""
    run = grid_run(2, 2)
    plate, burgee = run.artwork.decals
    runs = [
        with_decals(run, replace(plate, picture=plate_that_says(words, size_mm=size_mm)), burgee)
        for words in ("BOAT 12", "BOAT 17")
    ]
    ours, theirs = (run_files(each) for each in runs)
    for name in ("proof.pdf", "cut-01.svg", "summary.json"):
        (folder / name).write_bytes(ours[name])
    (folder / "print.pdf").write_bytes(ours["print.pdf"])
    assert check_folder(folder).found == ()

    edit(folder, "print.pdf", lambda _: theirs["print.pdf"])

    assert [each.where for each in check_folder(folder).found] == [
        "print.pdf, berth plate, all 2 copies"
    ]


def test_a_print_in_another_colour_is_seen(folder):
    run = grid_run(2, 2)
    plate, burgee = run.artwork.decals
    ours, theirs = (
        run_files(
            with_decals(
                run,
                replace(plate, picture=plate_that_says("A", size_mm=9.0, colour=red)),
                burgee,
            )
        )
        for red in (0.1, 0.4)
    )
    for name, data in ours.items():
        (folder / name).write_bytes(data)
    edit(folder, "print.pdf", lambda _: theirs["print.pdf"])

    assert Kind.PROOF_ART.number in kinds(check_folder(folder))


def test_a_print_with_another_bleed_has_another_shape(mixed):
    run = grid_run(2, 2)
    plate, burgee = run.artwork.decals

    found = mixed(with_decals(run, replace(plate, bleed_mm=1.5), burgee), "print.pdf").found

    assert Kind.PRINT_SHAPE in {each.kind for each in found}
    assert all("berth plate" in each.where for each in found)


def test_a_mirrored_contour_is_called_mirrored(mixed):
    """The plate's hole is off its centre, so its mirror image is another cut."""
    run = grid_run(2, 2)
    rings = tuple(
        replace(ring, points_mm=_mirrored(ring.points_mm, run, ring)) if ring.decal == 0 else ring
        for ring in run.cut.frames[0].strokes
    )
    cut = replace(run.cut, frames=(replace(run.cut.frames[0], strokes=rings),))

    found = mixed(replace(run, cut=cut), "cut-01.svg").found

    assert {each.where for each in found if each.kind.number < 300} == {
        "cut-01.svg, berth plate, all 2 copies"
    }


def _mirrored(points: np.ndarray, run: Run, ring: object) -> np.ndarray:
    strip = run.nest.strips[0]
    frame = run.marks.frames[0]
    k = next(
        k
        for k, (decal, copy) in enumerate(zip(strip.placements.shape, strip.copy, strict=True))
        if (decal, copy) == (ring.decal, ring.copy)
    )
    x = strip.placements.centre_mm[k, 0] + run.nest.x0_mm
    assert frame.index == 1
    return points * (-1, 1) + (2 * x, 0)


def test_a_proof_of_another_run_is_found(mixed):
    """Two of four copies 3 mm aside: the client would approve another layout."""
    run = grid_run(2, 2)
    strip = run.nest.strips[0]
    moved = replace(strip.placements, centre_mm=strip.placements.centre_mm + [[3, 0], [0, 0]] * 2)
    other = replace(run, nest=replace(run.nest, strips=(replace(strip, placements=moved),)))

    found = mixed(other, "proof.pdf").found

    assert {each.kind for each in found} == {Kind.PROOF_PLACE}
    assert {each.where.split(", ", 2)[2] for each in found} == {
        "berth plate, copy 1",
        "berth plate, copy 2",
    }
