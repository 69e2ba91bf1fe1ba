"""The pages behind the frames: decals at scale, the run card, packing slips, dates and inches."""

import re
from dataclasses import replace

import pypdfium2 as pdfium
import pytest

from nestplan.figures import ranges
from nestplan.files.proof_lengths import Lengths
from nestplan.files.proof_pdf import proof_pdf
from tests.files.handmade import a_run
from tests.files.proof_samples import SAMPLES, sample
from tests.files.test_proof_pages import assert_words_stand_apart

NAMES = ("Εταιρεία Αλκυόνη", "Клуб «Чайка»", "Żółw Ægir Ñandú")


def words_by_kind(run):
    """The words of each page, by what stands at the right of its title."""
    said = {}
    for page in pdfium.PdfDocument(proof_pdf(run)):
        words = " ".join(page.get_textpage().get_text_range().split())
        kind = next(
            (k for k in ("Run card", "Packing slip", "Decals") if k in words[:160]), "Proof"
        )
        said.setdefault(kind, []).append(words)
    return said


def all_words(run):
    """The words of all pages."""
    return " ".join(word for words in words_by_kind(run).values() for word in words)


def ordered(run, **keys):
    """The run of a job with these keys at its top."""
    order = run.job.order.model_copy(update=keys)
    return replace(run, job=replace(run.job, order=order))


def recipients(run, *names):
    decals = tuple(
        replace(d, recipient=name) for d, name in zip(run.artwork.decals, names, strict=True)
    )
    return replace(run, artwork=replace(run.artwork, decals=decals))


def test_every_decal_is_drawn_at_the_scale_its_panel_states():
    """The handmade plate is 90 mm wide: its dimension says so, and its scale is a round one."""
    (page,) = words_by_kind(a_run())["Decals"]

    for said in ("1 berth plate, 1:", "2 club burgee, 1:", "90.0", "60.0", "80.0", "50.0"):
        assert said in page, said
    assert "kiss cut, bleed 2 mm" in page and "through cut, bleed 1.5 mm" in page
    assert "4 ordered, 4 planned; 50.00 cm² each" in page.replace("50.0 cm²", "50.00 cm²")


@pytest.mark.parametrize(("enters", "order"), [("leading", "1, 2"), ("trailing", "2, 1")])
def test_the_run_card_has_frames_in_the_order_of_the_cut(enters, order):
    run = a_run()
    setup = run.job.setup.model_copy(update={"enters": enters})
    (card,) = words_by_kind(replace(run, job=replace(run.job, setup=setup)))["Run card"]

    assert f"Into the cutter: the {enters} edge first" in card
    assert f"frames in the order {order}" in card


def test_the_run_card_says_what_is_set_and_what_may_hurt():
    """By hand: 0.88 m of film; frame 2 begins at 480 and its mark 1 is 24 mm from the left, 12 mm
    from its leading end; four plates are kiss cut, four burgees through."""
    (card,) = words_by_kind(a_run())["Run card"]

    for said in (
        "0.88 m of film",
        "0.88 m on cutter: the leading edge is cut first",
        "reading on: disc, 6 mm, clear zone 5 mm; 4 to 5 a frame",
        "kiss: blade 1, 4 contours; then through: blade 2, 4 contours",
        "2 2 480.0 300.0 5 24.0 12.0 2",
        "Wait 1:00 h",
        "Blades",
        "Carriage",
        "Fumes",
        "Lifting",
        "Local codes, the machine's manual and licensed practice come first.",
        "printed by",
    ):
        assert said in card, said


def test_the_run_card_weighs_the_roll_before_and_after():
    """By hand: 1.37 m x 0.25 kg/m² is 0.3425 kg a metre; 50 m are 17.1 kg, 0.53 m used 0.2 kg."""
    run = sample(width_mm=1370.0, weight_g_m2=250.0)
    used = run.marks.length_used_mm / 1000 * 1.37 * 0.25
    (card,) = words_by_kind(run)["Run card"]

    assert f"17.1 kg of film now, {used:.1f} kg go into this run" in card


def test_a_run_of_many_frames_has_all_of_them_on_its_card():
    cards = " ".join(words_by_kind(sample(frames_mm=(200.0,) * 40))["Run card"])

    for index in range(1, 41):
        assert re.search(rf"\b{index} {index} \d+\.\d 200\.0 ", cards), index


def test_nobody_named_no_slip():
    assert "Packing slip" not in words_by_kind(a_run())


def test_each_recipient_has_one_slip_with_what_is_theirs():
    run = recipients(a_run(), "race office", "race office")
    (slip,) = words_by_kind(run)["Packing slip"]

    assert "For race office" in slip
    assert "berth plate" in slip and "club burgee" in slip
    assert "1 1 3 1 to 3" in slip and "2 2 1 4" in slip  # frame, decal, copies, numbers

    both = words_by_kind(recipients(a_run(), "race office", "harbour master"))["Packing slip"]
    assert [("berth plate" in one, "club burgee" in one) for one in both] == [
        (True, False),
        (False, True),
    ]


@pytest.mark.parametrize("name", NAMES)
def test_names_of_any_alphabet_of_europe_are_set(name):
    run = ordered(recipients(sample(name=name, names=(name, name + " 2")), name, None), date=None)
    said = words_by_kind(run)

    assert f"For {name}" in said["Packing slip"][0]
    assert name in said["Run card"][0] and name in said["Decals"][0]


def test_the_jobs_date_stands_on_proof_card_and_slip_and_no_other():
    run = ordered(recipients(a_run(), "race office", None), date="2026-06-05")
    said = words_by_kind(run)

    for kind in ("Proof", "Run card", "Packing slip"):
        assert "2026-06-05" in said[kind][0], kind
    assert not re.search(r"20\d\d-", all_words(a_run()))


def test_inches_stand_beside_millimetres_where_the_job_asks():
    """254 mm are 10 in and 25.4 mm 1 in, by definition (international yard and pound, 1959)."""
    say = Lengths(True)
    assert say.bare(254.0) == "254.0 (10.000″)"
    assert say.full(25.4, 2) == "25.40 mm (1.000″)"
    assert say.short(6) == "6 mm (0.236″)"
    assert say.film(3048.0) == "3.05 m (10.00 ft)"
    assert Lengths(False).bare(254.0) == "254.0"

    said = words_by_kind(ordered(a_run(), show="in"))
    frame = said["Proof"][-1]
    assert "600.0 (23.622″)" in said["Proof"][0]
    assert "Marks, in" in frame and "0.945 18.898" in frame.replace("19.370", "18.898")
    assert "90.0 (3.543″)" in said["Decals"][0]
    assert "″" in said["Run card"][0]
    assert "″" not in all_words(a_run())


@pytest.mark.parametrize("name", ["long_names", "twelve_decals", "twenty_frames"])
def test_slips_in_inches_keep_their_words_apart(name):
    run = SAMPLES[name]()
    names = ["race office" if k % 2 else "harbour master" for k in range(len(run.artwork.decals))]
    assert_words_stand_apart(proof_pdf(ordered(recipients(run, *names), show="in")))


def test_numbers_are_told_in_ranges():
    assert ranges([1, 2, 3, 4, 7, 9, 10]) == "1 to 4, 7, 9 to 10"
