"""What the print PDF says of itself, and what it says of art that breaks a rule.

Sources: ISO 32000-1 14.11 (boxes, output intents) and 8.11 (optional content); ISO 19593-1 for
the metadata of processing steps; ISO 15930-7 as told in docs/print.md; ICC.1:2004-10, 7.2.
"""

import dataclasses
import io
import struct

import pikepdf
import pytest
import zxingcpp
from pikepdf import Array, Dictionary, Name

from nestplan.artwork import Picture
from nestplan.faults import Fault
from nestplan.files.press import output_profile
from nestplan.files.press_rules import breaches, press_notes
from nestplan.files.print_pdf import print_pdf
from nestplan.job.profile import read_profile
from tests.files.handmade import a_run
from tests.files.test_print_pdf import drawn


def dated(run, day="2027-05-14"):
    order = run.job.order.model_copy(update={"date": day})
    return dataclasses.replace(run, job=dataclasses.replace(run.job, order=order))


def on_machine(run, **changes):
    printer = run.job.printer.model_copy(update=changes)
    return dataclasses.replace(run, job=dataclasses.replace(run.job, printer=printer))


@pytest.fixture(scope="module")
def run():
    return dated(a_run())


@pytest.fixture(scope="module")
def printed(run):
    return print_pdf(run)


def test_information_and_metadata_say_the_same_and_dates_are_the_jobs(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf, pdf.open_metadata() as xmp:
        assert str(pdf.docinfo["/Title"]) == xmp["dc:title"]
        assert xmp["pdf:Trapped"] == "False"
        assert pdf.docinfo["/Trapped"] == Name("/False")
        assert str(pdf.docinfo["/CreationDate"]).startswith("D:20270514")
        assert xmp["xmp:CreateDate"].startswith("2027-05-14")
        assert xmp["xmpMM:DocumentID"].startswith("uuid:")
        assert xmp["pdfxid:GTS_PDFXVersion"] == "PDF/X-4"
        assert len(pdf.trailer.ID) == 2
        assert not pdf.is_encrypted


def test_without_a_date_there_is_none_and_the_standard_is_not_named():
    run = a_run()
    with pikepdf.open(io.BytesIO(print_pdf(run))) as pdf, pdf.open_metadata() as xmp:
        assert "/CreationDate" not in pdf.docinfo
        assert "xmp:CreateDate" not in xmp
        assert "pdfxid:GTS_PDFXVersion" not in xmp
    assert any("no date" in note.text for note in press_notes(run.job, run.marks.frames))


def test_the_output_profile_is_an_output_profile_and_there_is_one(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        (intent,) = pdf.Root.OutputIntents
        profile = intent.DestOutputProfile.read_bytes()

    assert intent.S == "/GTS_PDFX"
    assert profile[12:20] == b"prtrCMYK"
    assert struct.unpack(">I", profile[:4])[0] == len(profile)


def test_another_plan_has_another_identity_and_the_same_plan_the_same_bytes(run, printed):
    other = dataclasses.replace(run, seed=run.seed + 1)

    def identity(data):
        with pikepdf.open(io.BytesIO(data)) as pdf, pdf.open_metadata() as xmp:
            return xmp["xmpMM:DocumentID"]

    assert print_pdf(run) == printed
    assert identity(print_pdf(other)) != identity(printed)


def test_contours_are_steps_of_their_own_and_are_not_seen(run, printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        groups = {str(group.Name): group for group in pdf.Root.OCProperties.OCGs}
        off = [str(group.Name) for group in pdf.Root.OCProperties.D.OFF]
        forms = pdf.pages[0].Resources.XObject
        line = forms.Contour1
        (colour,) = line.Resources.ColorSpace.values()
        said = [str(step.operator) for step in pikepdf.parse_content_stream(line)]

    cut = run.artwork.decals[0].cut
    kind = {"kiss": "/PartialCutting", "through": "/Cutting"}[cut]
    step = groups[{"kiss": "Kiss cut", "through": "Through cut"}[cut]].GTS_Metadata
    assert step.GTS_ProcStepsGroup == "/Structural"
    assert step.GTS_ProcStepsType == kind
    assert sorted(off) == sorted(name for name in groups if name != "Marks")
    assert colour[0] == "/Separation"
    assert colour[1] == kind
    assert said[-1] == "S"
    without = print_pdf(on_machine(run, contours_in_print=False))
    assert (drawn(printed, 0) == drawn(without, 0)).all()
    assert b"PartialCutting" not in pikepdf.open(io.BytesIO(without)).Root.to_json(True)


@pytest.mark.parametrize("job", ["harbour regatta", "Σημαιάκια και πινακίδες του λιμανιού"])
def test_a_stranger_reads_plan_and_frame_off_the_film(run, job):
    order = run.job.order.model_copy(update={"name": job})
    named = with_codes(dataclasses.replace(run, job=dataclasses.replace(run.job, order=order)))
    data = print_pdf(named)

    for index in range(2):
        seen = drawn(data, index)[::-1].astype("u1")
        (code,) = zxingcpp.read_barcodes(seen)
        ours, _plan, frame, name = code.text.split(" ", 3)
        assert (ours, frame) == ("nestplan", f"{index + 1}/2")
        assert job.startswith(name)
        assert len(name) >= 8


def with_codes(run):
    """Codes on blank film of the hand-made run."""
    frames = tuple(
        dataclasses.replace(frame, slug=dataclasses.replace(frame.slug, code_mm=(x, y, 18.5)))
        for frame, (x, y) in zip(run.marks.frames, ((300.0, 400.0), (450.0, 600.0)), strict=True)
    )
    return dataclasses.replace(run, marks=dataclasses.replace(run.marks, frames=frames))


def art(run, change):
    """The run whose first decal's art was changed."""
    plate = run.artwork.decals[0]
    with pikepdf.open(io.BytesIO(plate.picture.pdf)) as pdf:
        change(pdf, pdf.pages[0])
        held = io.BytesIO()
        pdf.save(held)
    picture = Picture(pdf=held.getvalue(), box_mm=plate.picture.box_mm)
    return [dataclasses.replace(plate, picture=picture)]


def words(run, decals):
    return " ".join(note.text for note in breaches(run.job, decals))


def painted(operators):
    return lambda pdf, page: page.contents_add(pikepdf.Stream(pdf, operators), prepend=True)


def with_font(pdf, page):
    page.obj.Resources.Font = Dictionary(
        F9=Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/Courier"))
    )


def with_curve(pdf, page):
    page.obj.Resources.ExtGState = Dictionary(
        G9=Dictionary(TR=Dictionary(FunctionType=2, Domain=Array([0, 1]), N=2))
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (painted(b"1 0 0 rg 0 0 9 9 re f\n"), "a colour in RGB"),
        (with_font, "the font Courier without its outlines"),
        (with_curve, "a transfer curve"),
    ],
)
def test_each_rule_that_the_art_breaks_is_told(run, change, said):
    assert said in words(run, art(run, change))


def test_art_that_breaks_a_rule_takes_the_standards_name_off(run):
    found = breaches(run.job, art(run, painted(b"1 0 0 rg 0 0 9 9 re f\n")))
    with (
        pikepdf.open(io.BytesIO(print_pdf(dataclasses.replace(run, breaches=found)))) as pdf,
        pdf.open_metadata() as xmp,
    ):
        assert "pdfxid:GTS_PDFXVersion" not in xmp


def test_process_inks_are_no_breach_where_the_profile_is_of_them(run):
    assert "a colour in CMYK" not in words(run, art(run, painted(b"0 1 1 0 k 0 0 9 9 re f\n")))


def test_profiles_of_other_kinds_are_refused(tmp_path, run):
    good = output_profile(run.job).data
    kinds = {
        "text.icc": (b"no profile at all" * 20, "no ICC profile"),
        "short.icc": (good[:-100], "not whole"),
        "screen.icc": (good[:12] + b"mntr" + good[16:], "a monitor's"),
        "lab.icc": (good[:16] + b"Lab " + good[20:], "for Lab"),
        "new.icc": (good[:8] + b"\x05" + good[9:], "version 5"),
    }
    for name, (data, why) in kinds.items():
        (tmp_path / name).write_bytes(data)
        with pytest.raises(Fault, match=why):
            read_profile(tmp_path, name, "shop.toml")
    (tmp_path / "good.icc").write_bytes(good)
    assert read_profile(tmp_path, "good.icc", "shop.toml").space == "CMYK"
    with pytest.raises(Fault, match="outside"):
        read_profile(tmp_path / "inner", "../good.icc", "shop.toml")
    with pytest.raises(Fault, match="cannot be read"):
        read_profile(tmp_path, "none.icc", "shop.toml")
