"""Good input is good: every seed of the fuzzing is read to its end, in one way at least."""

import pytest

from nestplan.faults import Fault, Faults
from tests.bench.fuzz import READERS, WAYS, load
from tests.bench.fuzz_seeds import GOOD

ARTS = {"svg": "art.svg", "pdf": "art.pdf", "pixels": "art.png"}


@pytest.mark.parametrize("reader", sorted(set(GOOD) - {"check", *ARTS}))
def test_every_seed_is_read(reader, tmp_path):
    for data in GOOD[reader]:
        READERS[reader](data, tmp_path)


@pytest.mark.parametrize("reader", sorted(ARTS))
def test_every_seed_of_art_is_read_in_some_way_and_every_way_reads_some(reader, tmp_path):
    ways, seeds = WAYS[ARTS[reader]], GOOD[reader]

    assert [any(_is_read(seed, reader, way, tmp_path) for way in ways) for seed in seeds] == [
        True
    ] * len(seeds)
    assert [any(_is_read(seed, reader, way, tmp_path) for seed in seeds) for way in ways] == [
        True
    ] * len(ways)


def _is_read(data, reader, way, folder) -> bool:
    try:
        load(data, ARTS[reader], way, folder)
    except (Fault, Faults):
        return False
    return True
