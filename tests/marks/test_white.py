"""White fields: where they reach, and when they are asked for."""

from dataclasses import replace

import pytest
import shapely

from nestplan.marks import web_of, white_fields, white_notes
from nestplan.marks.safe_zone import centre_ranges_mm
from nestplan.marks.white import white_disc
from tests.files.handmade import MARK_SIZE_MM, MARKS, a_job, a_run


def job_on(base):
    job = a_job()
    return replace(job, roll=job.roll.model_copy(update={"base": base}))


def test_a_field_holds_its_circle_and_is_no_wider():
    disc = white_disc(30.0, 40.0, 7.0)

    assert disc.contains(shapely.Point(30, 40).buffer(7.0, quad_segs=200).buffer(-1e-4))
    assert disc.bounds == pytest.approx((23.0, 33.0, 37.0, 47.0))
    assert disc.area == pytest.approx(3.14159 * 49, rel=1e-3)


def test_every_mark_and_both_bars_and_the_words_have_a_field_in_run_coordinates():
    run = a_run()
    frame = run.marks.frames[1]
    fields = white_fields(run.marks, frame)

    assert len(fields) == len(frame.marks) + 3
    clear = MARK_SIZE_MM / 2 + run.marks.clear_mm
    for field, (x, y) in zip(fields, MARKS[1], strict=False):
        assert field.contains(shapely.Point(x, y).buffer(clear - 1e-3))
    words, across, along = fields[-3:]
    assert words.bounds == frame.slug.text_mm
    x, y = frame.slug.across_mm
    assert across.contains(shapely.box(x, y - 0.1, x + 100, y + 4))
    x, y = frame.slug.along_mm
    assert along.contains(shapely.box(x - 0.1, y, x + 4, y + 100))


@pytest.mark.parametrize("base", ["clear", "dark", "mirror"])
def test_marks_stand_where_their_field_can_be_printed(base):
    """On white film a mark may touch the printable edge, elsewhere its whole clear zone may."""
    job, sensor = job_on(base), a_job().cutter.sensor
    web = web_of(job)
    blank = sensor.size_mm / 2 + sensor.clear_mm

    (low, high) = (r := centre_ranges_mm(job, web))[0][0], r[-1][1]
    assert low == max(web.printable_mm[0] + blank, web.reach_mm[0])
    assert high == min(web.printable_mm[1] - blank, web.reach_mm[1])
    white = centre_ranges_mm(a_job(), web)
    assert white[0][0] < low or low == web.reach_mm[0]


def test_only_film_that_is_not_white_is_told_of():
    assert white_notes(job_on("white")) == []
    (note,) = white_notes(job_on("dark"))
    assert note.level == "know"
    assert "black alone is not seen on dark film" in note.text
    assert "counts no passes of white" in note.text
