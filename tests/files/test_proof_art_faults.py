"""The proof's page of art that is not in order: its places, its words, and how it parts."""

import io
from dataclasses import replace

import pypdfium2
import pytest

from nestplan.artwork import ArtFault
from nestplan.files.proof_art_faults import FaultPanel, fault_panels
from nestplan.files.proof_pdf import proof_pdf
from tests.files.handmade import a_run

WIDE_MM = 182.0


def fault(number: int, **changes) -> ArtFault:
    told = {
        "kind": "hairline",
        "level": "look",
        "where": f"art/plate.svg, <path id='p{number}'>",
        "text": f"line {number} is too thin to print, so draw it thicker than it is",
        "x_mm": 3.0 * number,
        "y_mm": 0.0,
        "size_mm": 2.0,
    }
    return ArtFault(**(told | changes))


def with_faults(*faults):
    run = a_run()
    first, *rest = run.artwork.decals
    decals = (replace(first, faults=faults), *rest)
    return replace(run, artwork=replace(run.artwork, decals=decals))


def words(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return [page.get_textpage().get_text_range() for page in document]


def test_art_in_order_has_no_page():
    assert fault_panels(a_run()) == ()
    assert not any("Art to look at" in page for page in words(proof_pdf(a_run())))


def test_every_fault_is_told_with_its_number_and_where():
    (page,) = [
        page
        for page in words(proof_pdf(with_faults(fault(1), fault(2, size_mm=500.0))))
        if "Art to look at" in page
    ]

    assert "Line 1 is too thin" in page
    assert "Line 2 is too thin" in page
    assert "<path id='p2'>" in page
    assert page.split().count("2") >= 2  # in the list and on the picture


def test_the_same_run_gives_the_same_page():
    run = with_faults(fault(1))

    assert proof_pdf(run) == proof_pdf(run)


@pytest.mark.parametrize("count", [4, 30])
def test_a_panel_parts_without_losing_a_fault_or_a_number(count):
    (panel,) = fault_panels(with_faults(*(fault(k) for k in range(count))))
    assert isinstance(panel, FaultPanel)

    parts, rest = [], panel
    while rest.height_mm(WIDE_MM) > 110.0:
        first, rest = rest.parted(WIDE_MM, 110.0)
        assert first.height_mm(WIDE_MM) <= 110.0
        parts.append(first)
    parts.append(rest)

    assert [each for part in parts for each in part.faults] == list(panel.faults)
    numbers = [part.first + k for part in parts for k in range(len(part.faults))]
    assert numbers == list(range(1, count + 1))
