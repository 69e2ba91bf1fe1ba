"""Faults of the art in a summary are notes too, and lie on their decal."""

import pytest

from nestplan.check.art_fault_claims import art_fault_claims
from nestplan.check.said import Said

FAULT = {
    "kind": "hairline", "level": "look", "x_mm": 1.0, "y_mm": 2.0, "size_mm": 3.0,
    "where": "art/plate.svg", "text": "this line is thin",
}  # fmt: skip
NOTE = {"level": "look", "where": "art/plate.svg", "text": "this line is thin"}


def findings(said: dict, fault: dict, notes: list[dict]):
    decal = said["decals"][0] | {"faults": [fault]}
    changed = said | {"decals": [decal, *said["decals"][1:]], "notes": notes}
    (claim,) = art_fault_claims(Said.model_validate(changed))
    return claim.against


@pytest.fixture
def said(four_copies):
    import json

    return json.loads((four_copies / "summary.json").read_text())


def test_a_fault_with_its_note_is_in_order(said):
    assert findings(said, FAULT, [NOTE]) == ()


@pytest.mark.parametrize("change", [{"text": "no"}, {"level": "know"}, {"where": "x"}])
def test_a_fault_that_no_note_tells_is_found(said, change):
    (found,) = findings(said, FAULT, [NOTE | change])

    assert "decals 1 faults 1" in found.where


def test_a_fault_beside_its_decal_is_found(said):
    (found,) = findings(said, FAULT | {"x_mm": 500.0}, [NOTE])

    assert "place" in found.meant
