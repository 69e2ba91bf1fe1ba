"""The print's content and its picture, after one change to a page's operators."""

from collections.abc import Callable

import pikepdf
import pytest

from nestplan.check import Kind, check_folder
from nestplan.check.said import Said
from tests.check.edit import bend, edit, kinds


@pytest.fixture
def printed(folder) -> Callable:
    """The findings after text of the first page's content is replaced, or added at its end."""

    def check(old: str = "", new: str = "", *, last: str = "", **page: object):
        def change(data: bytes) -> bytes:
            path = folder.parent / "print.pdf"
            path.write_bytes(data)
            with pikepdf.open(path, allow_overwriting_input=True) as pdf:
                content = pdf.pages[0].Contents.read_bytes().decode("latin1")
                assert old in content
                content = content.replace(old, new, 1) + last
                pdf.pages[0].obj.Contents = pdf.make_stream(content.encode("latin1"))
                for key, value in page.items():
                    pdf.pages[0].obj[f"/{key}"] = value
                pdf.save(path)
            return path.read_bytes()

        edit(folder, "print.pdf", change)
        return check_folder(folder).found

    return check


MM = 72 / 25.4


def in_mm(operators: str) -> str:
    """Operators in page millimetres, for the end of a page."""
    return f"\nq {MM:.9f} 0 0 {MM:.9f} 0 0 cm {operators} Q\n"


def test_a_shorter_scale_bar_is_measured_twice(printed):
    found = printed("0 0 l 100.0 0 l 100.0 4.0 l S", "0 0 l 99.5 0 l 99.5 4.0 l S")

    assert [(f.kind, f.where, f.found) for f in found] == [
        (Kind.BAR_WRONG, "print.pdf, page 1, scale bar across", "99.50 mm"),
        (Kind.BAR_SEEN_WRONG, "print.pdf, page 1, scale bar across", "99.50 mm"),
    ]


def test_a_missing_scale_bar_is_found(printed):
    found = printed("0 4.0 m 0 0 l 100.0 0 l 100.0 4.0 l S", "n")

    assert (Kind.BAR_WRONG, "print.pdf, page 1, scale bar across", "none") in [
        (f.kind, f.where, f.found) for f in found
    ]


def test_a_bar_across_a_decal_is_found(printed):
    found = printed(last=in_mm("0 G 0.2 w 40 100 m 140 100 l S"))

    assert (Kind.BAR_IN_THE_WAY, "print.pdf, page 1, scale bar across") in [
        (f.kind, f.where) for f in found
    ]


def test_a_grey_mark_is_not_black(printed):
    found = printed("\n0 g\n", "\n0.6 g\n")

    shape = [f for f in found if f.kind is Kind.PRINTED_MARK_SHAPE]
    assert [f.found for f in shape] == ["not black"] * 4


def test_a_dot_that_is_no_mark_is_found(printed):
    found = printed(last=in_mm("0 g 150 20 3 3 re f"))

    assert [f.kind for f in found] == [Kind.PRINTED_MARK_EXTRA]
    assert "x 161.50, y 71.50 mm" in found[0].found


def test_ink_in_a_clear_zone_is_seen(printed):
    """A pale line 4 mm beside the first mark, at (12, 12) on the page."""
    found = printed(last=in_mm("0.5 G 0.3 w 18 10 m 18 14 l S"))

    assert {(f.kind, f.where) for f in found} == {
        (Kind.CLEAR_ZONE_INK, "print.pdf, page 1, mark 1"),
        (Kind.STRAY_INK, "print.pdf, page 1"),
    }


def test_stray_ink_is_seen_where_content_would_not_tell(printed):
    """A thick pale stroke is no fill and no bar."""
    found = printed(last=in_mm("0.7 G 2 w 130 20 m 140 20 l S"))

    assert [f.kind for f in found] == [Kind.STRAY_INK]
    assert "20.0 mm² of ink" in found[0].found
    assert "about x 145.00, y 69.98 mm" in found[0].found  # pixels of a quarter millimetre


def test_what_covers_a_copy_is_seen(printed):
    """A white patch over the first plate: nothing in the content says it covers."""
    found = printed(last=in_mm("1 G 6 w 40 80 m 60 80 l S"))

    assert [(f.kind, f.where) for f in found] == [
        (Kind.LOOKS_WRONG, "print.pdf, page 1, berth plate, copy 1")
    ]


def test_an_annotation_over_a_mark_is_seen(folder):
    """What is not in the content is printed all the same."""

    def change(data: bytes) -> bytes:
        path = folder.parent / "print.pdf"
        path.write_bytes(data)
        with pikepdf.open(path, allow_overwriting_input=True) as pdf:
            look = pdf.make_stream(b"1 g 0 0 40 40 re f")
            look.Type, look.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
            look.BBox = pikepdf.Array([0, 0, 40, 40])
            note = pikepdf.Dictionary(
                Type=pikepdf.Name.Annot,
                Subtype=pikepdf.Name.Stamp,
                Rect=pikepdf.Array([20, 20, 60, 60]),
                F=4,
                AP=pikepdf.Dictionary(N=look),
            )
            pdf.pages[0].obj.Annots = pikepdf.Array([pdf.make_indirect(note)])
            pdf.save(path)
        return path.read_bytes()

    edit(folder, "print.pdf", change)
    found = check_folder(folder).found

    assert [(f.kind, f.where) for f in found] == [(Kind.MARK_UNSEEN, "print.pdf, page 1, mark 1")]


@pytest.mark.parametrize(
    ("key", "value", "found"),
    [
        ("MediaBox", pikepdf.Array([0, 0, 850.0, 900.0]), "299.86 mm wide"),
        ("Rotate", 180, "turned by 180°"),
        ("CropBox", pikepdf.Array([0, 0, 300, 300]), "cropped"),
        ("UserUnit", 2, "long"),
    ],
)
def test_a_page_that_is_not_its_frame_is_found(printed, key, value, found):
    against = printed(**{key: value})

    sizes = [f for f in against if f.kind is Kind.PAGE_SIZE]
    if key == "MediaBox":  # one page only: its width has nothing to be held against
        assert any("317.50 mm long" in f.found for f in sizes)
    else:
        assert any(found in f.found for f in sizes)


def test_a_print_that_nothing_cuts_is_found(printed):
    found = printed(last=in_mm("q 0.3 0 0 0.3 150 280 cm /Decal2 Do Q"))

    assert Kind.PRINT_EXTRA in [f.kind for f in found]


def test_a_stretched_print_is_found(printed):
    """One way 1 % longer: a similarity cannot say it, a tape measure can."""
    first = "q 1.000000000 0.000000000 0.000000000 1.000000000 70.000000 90.000000 cm"
    stretched = first.replace("q 1.000000000", "q 1.010000000")
    found = printed(first, stretched)

    words = [f.found for f in found if f.kind is Kind.PRINT_SIZE]
    assert any("stretched one way by 1.00 %" in each for each in words)
    assert all("berth plate, copy 1" in f.where for f in found)


def test_a_mirrored_print_is_found(printed):
    first = "q 1.000000000 0.000000000 0.000000000 1.000000000 70.000000 90.000000 cm"
    found = printed(first, first.replace("q 1.000000000", "q -1.000000000"))

    assert (Kind.PRINT_MIRRORED, "print.pdf, page 1, berth plate, copy 1") in [
        (f.kind, f.where) for f in found
    ]


def test_a_print_wider_than_the_film_is_found(folder):
    def narrow(said):
        said["roll"]["width_mm"] -= 25.0

    bend(folder, narrow)

    assert {Kind.PAGE_SIZE.number, Kind.SHEET_SIZE.number} <= set(kinds(check_folder(folder)))


def test_the_summary_is_read_by_its_written_keys_only():
    """What the check reads is the contract's `copy`, `schema`; no name of ours leaks in."""
    assert {"schema", "print", "setups", "notes"} <= {
        field.alias or name for name, field in Said.model_fields.items()
    }
