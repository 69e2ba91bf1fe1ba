"""What a print PDF says of itself: title, dates, identity, output profile.

It is built to the rules of PDF/X-4 (ISO 15930-7) as far as the art allows. Only where no rule is
known to be broken does it name that standard; that is our own word, no one has certified it.
"""

from importlib import resources

from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.files.one_line import one_line
from nestplan.files.plan_id import document_id
from nestplan.files.run import Run
from nestplan.job import Job
from nestplan.job.profile import Profile

STANDARD = "PDF/X-4"
DEFAULT = "fogra39_coated.icc"
CONDITION, REGISTRY = "FOGRA39", "http://www.color.org"  # of the default: the ICC's registry
CHANNELS = {"CMYK": 4, "RGB": 3, "Gray": 1}


def output_profile(job: Job) -> Profile:
    """The one that the shop names for film and printer, else a freely licensed one."""
    if job.profile is not None:
        return job.profile
    data = resources.files("nestplan.files").joinpath("profiles", DEFAULT).read_bytes()
    return Profile(
        source=DEFAULT, data=data, space="CMYK", about="Coated offset print, FOGRA39 data"
    )


def describe(pdf: Pdf, run: Run, digest: str) -> None:
    """Document information and the same as XMP; the output profile; no dialog that scales.

    digest: of the plan, hex. Dates are the job's `date`; without one there are none.
    """
    title = f"{one_line(run.job.order.name)}: print"
    producer = f"nestplan {run.version}"
    day = run.job.order.date
    for key in list(pdf.docinfo.keys()):
        del pdf.docinfo[key]
    pdf.docinfo["/Title"], pdf.docinfo["/Producer"] = title, producer
    pdf.docinfo["/Trapped"] = Name("/False")
    if day is not None:
        pdf.docinfo["/CreationDate"] = pdf.docinfo["/ModDate"] = f"D:{day.replace('-', '')}000000Z"
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as about:
        about["dc:title"] = title
        about["pdf:Producer"] = producer
        about["pdf:Trapped"] = "False"
        about["xmpMM:DocumentID"] = document_id(digest)
        about["xmpMM:VersionID"] = "1"
        about["xmpMM:RenditionClass"] = "default"
        if day is not None:
            for key in ("xmp:CreateDate", "xmp:ModifyDate", "xmp:MetadataDate"):
                about[key] = f"{day}T00:00:00Z"
        if named_after_standard(run):
            about["pdfxid:GTS_PDFXVersion"] = STANDARD
    pdf.Root.OutputIntents = Array([_intent(pdf, output_profile(run.job))])
    pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"))


def named_after_standard(run: Run) -> bool:
    """Whether no rule is known to be broken."""
    return run.job.order.date is not None and not run.breaches


def _intent(pdf: Pdf, profile: Profile) -> Dictionary:
    """source: ISO 32000-1 14.11.5, Table 365."""
    stream = Stream(pdf, profile.data)
    stream.N = CHANNELS[profile.space]
    about = Dictionary(
        Type=Name.OutputIntent,
        S=Name.GTS_PDFX,
        OutputConditionIdentifier="Custom",
        Info=profile.about,
        DestOutputProfile=pdf.make_indirect(stream),
    )
    if profile.source == DEFAULT:
        about.OutputConditionIdentifier, about.RegistryName = CONDITION, REGISTRY
    return pdf.make_indirect(about)
