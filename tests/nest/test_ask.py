"""From decals to a task: distances, edges, turns, and what cannot fit."""

from dataclasses import replace

import pytest
import shapely
import shapely.affinity

from nestplan.faults import OUT_OF_REACH, Fault, Faults
from nestplan.geometry.outline import outline_of
from nestplan.nest import Budget
from nestplan.nest.ask import distance_notes, refuse_what_cannot_fit, task_of, turning_notes
from nestplan.nest.race import race
from nestplan.nest.verify import verify
from tests.files.handmade import a_run
from tests.marks.handmade import plate

STRIP = {"strip_mm": (10.0, 588.0), "cuttable_mm": (0.0, 600.0)}


def test_contours_stand_apart_by_the_gutter_or_both_bleeds_whichever_is_more():
    decals = (plate(50, 50, bleed_mm=1.0), plate(60, 60, bleed_mm=3.0))

    task = task_of(decals, gutter_mm=4.5, may_turn=True, **STRIP)

    assert task.apart_mm == ((4.5, 4.5), (4.5, 6.0))
    assert [shape.edge_mm for shape in task.shapes] == [1.0, 3.0]
    assert task.width_mm == 578.0


def test_where_the_knife_reaches_less_than_the_printer_prints_the_edge_is_farther_in():
    task = task_of(
        (plate(50, 50, bleed_mm=2.0),),
        gutter_mm=4.0,
        strip_mm=(10.0, 590.0),
        cuttable_mm=(15.0, 600.0),
        may_turn=True,
    )

    assert task.shapes[0].edge_mm == 5.0


@pytest.mark.parametrize(
    ("rule", "angles", "every"),
    [
        ("none", 1, False),
        ("half", 2, False),
        ("quarter", 4, False),
        ("free", 24, True),
    ],
)
def test_the_turns_allowed_are_those_the_job_says(rule, angles, every):
    decal = replace(plate(50, 40), rotate=rule)

    shape = task_of((decal,), gutter_mm=4.0, may_turn=True, **STRIP).shapes[0]
    held = task_of((decal,), gutter_mm=4.0, may_turn=False, **STRIP).shapes[0]

    assert (len(shape.angles_deg), shape.any_angle) == (angles, every)
    assert (held.angles_deg, held.any_angle) == ((0.0,), False)


@pytest.mark.parametrize(
    ("direction", "rule", "angles"),
    [
        ("trailing", "none", (0.0,)),
        ("left", "none", (90.0,)),
        ("leading", "none", (180.0,)),
        ("right", "none", (270.0,)),
        ("left", "half", (90.0, 270.0)),
        ("leading", "half", (0.0, 180.0)),
        ("right", "quarter", (0.0, 90.0, 180.0, 270.0)),
    ],
)
def test_turns_are_counted_from_where_the_top_should_point(direction, rule, angles):
    """Angles run counter-clockwise and the film's leading edge is y = 0: art that stands upright
    has its top toward the trailing edge, and a quarter turn lays it to the left."""
    decal = replace(plate(50, 40), direction=direction, rotate=rule)

    shape = task_of((decal,), gutter_mm=4.0, may_turn=True, **STRIP).shapes[0]
    held = task_of((decal,), gutter_mm=4.0, may_turn=False, **STRIP).shapes[0]

    assert shape.angles_deg == angles
    assert held.angles_deg == (shape.best_deg,)
    assert shape.best_deg in angles


def test_film_that_shows_a_direction_says_what_it_does_to_decals():
    upright, sideways = plate(50, 40), replace(plate(60, 40), direction="left", rotate="none")

    def notes(*decals, may_turn=False):
        return [
            (note.level, note.text.split(":")[0])
            for note in turning_notes(decals, roll="brushed", may_turn=may_turn)
        ]

    held = ("know", "the film shows a direction")
    crossed = ("look", "the film shows a direction, and it will not run the same way through ")
    assert notes(replace(upright, rotate="none")) == []
    assert notes(upright, upright) == [held]
    assert notes(upright, sideways) == [held, (crossed[0], f"{crossed[1]}every decal")]
    assert notes(upright, sideways, may_turn=True) == []


def test_a_note_says_when_bleed_decides():
    (note,) = distance_notes((plate(50, 50, bleed_mm=3.0),), gutter_mm=4.0)

    assert "stand 6 mm apart" in note.text
    assert distance_notes((plate(50, 50, bleed_mm=2.0),), gutter_mm=4.0) == []


def test_every_decal_whose_bleed_decides_is_named():
    decals = [
        replace(plate(50, 50, bleed_mm=bleed), name=name)
        for name, bleed in (("a", 3.0), ("b", 2.0), ("c", 3.0), ("d", 5.0))
    ]

    told = [(note.where, note.text) for note in distance_notes(tuple(decals), gutter_mm=4.0)]

    assert [where for where, _ in told] == ['decal "d"', 'decals "a", "c"']
    assert "10 mm apart" in told[0][1]


def test_a_decal_wider_than_the_web_is_refused_with_the_room_there_is():
    wide = replace(plate(600, 580), name="breakwater")
    task = task_of((wide,), gutter_mm=4.0, may_turn=True, **STRIP)

    with pytest.raises(Fault, match=r'"breakwater" is 580\.0 mm wide.*room for 574\.0 mm') as seen:
        refuse_what_cannot_fit(task, length_most_mm=1000.0, roll="white")

    assert seen.value.code == OUT_OF_REACH


def test_a_decal_that_fits_when_turned_is_not_refused():
    task = task_of((plate(600, 500),), gutter_mm=4.0, may_turn=True, **STRIP)

    refuse_what_cannot_fit(task, length_most_mm=1000.0, roll="white")
    with pytest.raises(Fault, match="long along the feed"):
        refuse_what_cannot_fit(task, length_most_mm=599.0, roll="white")


def test_a_decal_that_fits_only_between_the_listed_turns_is_laid_there():
    """A plate of 700 x 572, drawn askew by 7 degrees, on room for 574."""
    askew = shapely.affinity.rotate(shapely.box(-350, -286, 350, 286), 7.0, origin=(0, 0))
    decal = replace(plate(700, 572), contour=outline_of(askew), quantity=3, rotate="free")

    task = task_of((decal,), gutter_mm=4.0, may_turn=True, **STRIP)
    refuse_what_cannot_fit(task, length_most_mm=800.0, roll="white")
    raced = race(task, Budget(steps=1, seed=1))

    assert verify(task, raced.best) == ()
    assert raced.best.length_mm == pytest.approx(3 * 704 - 4, abs=1e-6)
    with pytest.raises(Fault, match=r"572\.0 mm wide.*room for 571\.9 mm"):
        strip = {**STRIP, "strip_mm": (10.0, 585.9)}
        narrower = task_of((decal,), gutter_mm=4.0, may_turn=True, **strip)
        refuse_what_cannot_fit(narrower, length_most_mm=800.0, roll="white")
    held = task_of((replace(decal, rotate="quarter"),), gutter_mm=4.0, may_turn=True, **STRIP)
    with pytest.raises(Fault, match="wide at least"):
        refuse_what_cannot_fit(held, length_most_mm=800.0, roll="white")


def test_all_that_cannot_fit_is_named_at_once():
    decals = (replace(plate(600, 580), name="one"), replace(plate(700, 590), name="two"))
    task = task_of(decals, gutter_mm=4.0, may_turn=True, **STRIP)

    with pytest.raises(Faults) as seen:
        refuse_what_cannot_fit(task, length_most_mm=None, roll="white")

    assert len(seen.value.each) == 2


def test_the_hand_made_run_keeps_the_distances_it_says():
    task = task_of(a_run().artwork.decals, gutter_mm=5.0, may_turn=True, **STRIP)

    assert min(min(row) for row in task.apart_mm) >= 5.0
