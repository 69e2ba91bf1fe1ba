"""What is worth choosing from: none beaten by another, the wanted one the least, none below."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from nestplan.job import PrintMode
from nestplan.trade import Least, Option, Screened, narrower, shortlist, weigh
from nestplan.trade.least import least_print_s

NOTHING = Least(film_mm=0.0, run_s=0.0, total=Decimal(0))
AIMS = ("film", "time", "money")


def option(film_mm, run_s, total, dpi=720):
    return Option(
        width_mm=1000.0,
        mode=f"{dpi} dpi",
        resolution_dpi=dpi,
        frames=1,
        film_mm=film_mm,
        print_s=run_s / 2,
        cut_s=run_s / 2,
        run_s=run_s,
        total=Decimal(total),
    )


figures = st.integers(1, 6)
options = st.builds(option, figures, figures, figures, st.sampled_from([360, 720]))


@given(st.lists(st.lists(options, min_size=2, max_size=2), min_size=1, max_size=6))
def test_nothing_beaten_is_shown_and_nothing_worth_choosing_is_hidden(planned):
    trade, run, mode = weigh("time", planned, NOTHING, widths=3)
    every = [one for each in planned for one in each]

    for one in trade.options:
        assert not any(one.beaten_by(other) for other in every)
    for one in every:
        assert one in trade.options or any(one.beaten_by(other) for other in every)
    assert len(set(trade.options)) == len(trade.options)
    assert trade.options[trade.chosen] == planned[run][mode]


@given(
    st.sampled_from(AIMS),
    st.lists(st.lists(options, min_size=1, max_size=1), min_size=1, max_size=6),
)
def test_none_that_was_planned_takes_less_of_what_is_aimed_at(aim, planned):
    trade, run, mode = weigh(aim, planned, NOTHING, widths=3)

    assert planned[run][mode].taken(aim) == min(one.taken(aim) for (one,) in planned)
    assert [one.film_mm for one in trade.options] == sorted(one.film_mm for one in trade.options)


def test_a_finer_mode_is_never_beaten_by_a_coarser_one():
    trade, _, mode = weigh("time", [[option(5, 9, 9, 1200), option(5, 4, 4)]], NOTHING, widths=1)

    assert len(trade.options) == 2
    assert mode == 1


def screen(width_mm, film_mm, print_s):
    return Screened(width_mm=width_mm, film_mm=film_mm, print_s=print_s, money=film_mm)


def test_widths_go_down_until_three_in_a_row_are_in_vain():
    tried = [screen(1000.0, 500.0, 60.0)]
    while (width := narrower(tried, 1000.0)) is not None:
        assert width < tried[-1].width_mm
        assert width == int(width)
        tried.append(screen(width, tried[-1].film_mm + 1, tried[-1].print_s + 1))

    assert len(tried) == 4


def test_the_quickest_the_cheapest_and_the_shortest_are_planned_in_full():
    tried = [screen(1000.0, 500.0, 60.0), screen(900.0, 510.0, 61.0), screen(800.0, 550.0, 50.0)]

    assert shortlist(tried, 1000.0) == [800.0, 900.0]
    assert shortlist(tried[:1], 1000.0) == []


def mode(passes, directions=2):
    """Bands of 54 mm, 1 m/s, 60 mm of overscan, 0.4 s to turn."""
    return PrintMode(
        name="x",
        resolution_dpi=720,
        passes=passes,
        swath_mm=54,
        carriage_mm_s=1000,
        turnaround_s=0.4,
        overscan_mm=60,
        directions=directions,
    )


def test_the_least_print_by_hand():
    """One pass over 0.54 m²: 10 strokes over a metre, (1000 + 120 + 400) / 1000 s each."""
    found = least_print_s(mode(1), area_mm2=540_000, width_mm=1000, passes=1)

    assert abs(found - 15.2) < 1e-9


@given(
    st.integers(1, 12),
    st.sampled_from([1, 2]),
    st.floats(1e3, 1e7),
    st.floats(50, 3000),
    st.floats(0.01, 1.0),
    st.integers(1, 5),
)
def test_no_page_that_holds_the_area_is_printed_sooner(
    passes, directions, area_mm2, width_mm, share, frames
):
    """Any narrower page, the area parted into any number of frames."""
    from nestplan.clock.print_time import print_s

    asked = mode(passes, directions)
    least = least_print_s(asked, area_mm2=area_mm2, width_mm=width_mm, passes=passes)
    page_mm = width_mm * share
    lengths_mm = (area_mm2 / page_mm / frames,) * frames

    assert print_s(asked, width_mm=page_mm, lengths_mm=lengths_mm) >= least * (1 - 1e-6)


def test_options_that_are_alike_are_shown_once():
    one = option(5, 5, 5)
    trade, run, _ = weigh("film", [[one], [replace(one)]], NOTHING, widths=2)

    assert (len(trade.options), run) == (1, 0)
