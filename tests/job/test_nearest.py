"""A guess helps only where it is a good one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.job.nearest import nearest
from nestplan.job.place import place
from nestplan.job.shown import shown


@pytest.mark.parametrize(
    ("word", "known", "answer"),
    [
        ("quater", ["none", "half", "quarter", "free"], "quarter"),
        ("QUARTER", ["none", "quarter"], "quarter"),
        ("width", ["name", "width_mm", "height_mm"], "width_mm"),
        ("gloss", ["matt 760", "white gloss 1370"], "white gloss 1370"),
        ("mirrored", ["name", "cut", "rotate"], None),
        ("", ["name"], None),
        ("a", ["name"], None),
        ("name", [], None),
    ],
)
def test_the_nearest_name_or_none(word, known, answer):
    assert nearest(word, known) == answer


@given(st.lists(st.text(min_size=1, max_size=20), min_size=1, unique_by=str.casefold), st.data())
def test_a_known_name_is_nearest_to_itself(known, data):
    word = data.draw(st.sampled_from(known))

    assert nearest(word, known) == word


def test_a_word_of_megabytes_is_answered_at_once():
    assert nearest("x" * 2_000_000, ["name"] * 10) is None


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (("gutter_mm",), "a.toml, gutter_mm"),
        (("decal", 1, "rotate"), 'a.toml, [[decal]] 2 "club burgee", rotate'),
        (("decal", 0), "a.toml, [[decal]] 1"),
        (("machine", 0, "sensor", "size_mm"), "a.toml, [[machine]] 1, sensor, size_mm"),
        (("machine", 0, "spans", 1, 0), "a.toml, [[machine]] 1, spans 2, 1"),
        (("cost", "currency"), "a.toml, [cost], currency"),
        (("no where",), 'a.toml, "no where"'),
    ],
)
def test_a_place_is_named_as_a_person_would_search_for_it(keys, words):
    tables = {
        "gutter_mm": 3,
        "decal": [{}, {"name": "club burgee"}],
        "machine": [{"sensor": {}, "spans": [[1, 2], [3, 4]]}],
        "cost": {},
    }

    assert place("a.toml", tables, keys) == words


@given(st.text(max_size=200))
def test_a_value_is_shown_on_one_printable_line(text):
    assert shown(text).isprintable()
    assert len(shown(text)) <= 500
