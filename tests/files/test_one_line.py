"""Names stand on one line, whatever somebody typed."""

from hypothesis import given
from hypothesis import strategies as st

from nestplan.files.one_line import one_line


@given(st.text(), st.integers(1, 20))
def test_the_line_is_printable_and_no_longer_than_asked(text, most):
    line = one_line(text, most)

    assert line.isprintable()
    assert len(line) <= most
    assert line == line.strip()


def test_a_long_name_ends_in_an_ellipsis_and_a_short_one_stays():
    assert one_line("harbour regatta, spring series", 15) == "harbour regatt…"
    assert one_line("harbour regatta", 15) == "harbour regatta"
    assert one_line(" two\n\tlines\u2028 and\x00more ") == "two lines and more"
