"""Which rules of PDF/X-4 the art breaks: it is printed as it came, and the note says what it is.

source: ISO 15930-7:2010; what was read of it and what is from memory stands in docs/print.md.
"""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream

from nestplan.artwork import Decal
from nestplan.faults import Level, Note
from nestplan.files.press import DEFAULT, STANDARD, output_profile
from nestplan.job import Job
from nestplan.job.profile import Space
from nestplan.job.read import PAGE_MOST_MM
from nestplan.marks import Frame

WATCHED = "rg RG k K cs CS sh Do BI ID EI INLINE IMAGE gs Tf"
DEPTH_MOST = 12
DEVICES = {
    "/DeviceRGB": "RGB", "/RGB": "RGB", "/CalRGB": "", "/DeviceCMYK": "CMYK", "/CMYK": "CMYK",
}  # fmt: skip
SETS = {"rg": "RGB", "RG": "RGB", "k": "CMYK", "K": "CMYK"}


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that is broken, in words, and what would mend it."""

    what: str
    do: str
    level: Level = "know"


def breaches(job: Job, decals: Sequence[Decal]) -> tuple[Note, ...]:
    """A note for every rule that the art of a decal breaks; the same art is said once."""
    space = output_profile(job).space
    notes = []
    for decal in decals:
        with pikepdf.open(io.BytesIO(decal.picture.pdf)) as pdf:
            page = pdf.pages[0]
            art = _Art(space)
            art.look_at(page, page.obj.get("/Resources", Dictionary()))
            group = page.obj.get("/Group", Dictionary())
            art.colour(group.get("/CS"), "the space it blends in")
        for found in art.found:
            text = f"{STANDARD} does not allow {found.what}; it is printed as it is. {found.do}"
            notes.append(Note(level=found.level, where=decal.source, text=text))
    return tuple(dict.fromkeys(notes))


def press_notes(job: Job, frames: Sequence[Frame]) -> list[Note]:
    """What the shop and the job leave open."""
    notes = []
    if job.profile is None:
        text = (
            f"no output profile is named: print.pdf declares {DEFAULT}, for coated offset paper, "
            "which no roll printer is; name the one of this film on this printer"
        )
        notes.append(Note(level="know", where=f'[[machine]] "{job.printer.name}"', text=text))
    if job.order.date is None:
        text = f"print.pdf carries no date, which {STANDARD} asks for: add date to the job"
        notes.append(Note(level="know", where=f"{job.path.name}, date", text=text))
    long = [frame.index for frame in frames if frame.length_mm > PAGE_MOST_MM]
    if long:
        text = (
            f"page {long[0]} is longer than {PAGE_MOST_MM:g} mm, so its units are larger "
            "(UserUnit): some readers ignore them and print it small; measure a scale bar first"
        )
        notes.append(Note(level="look", where="print.pdf", text=text))
    for frame in frames:
        if frame.slug.code_mm is None:
            text = "no blank film was left for the code that tells a scan which frame it shows"
            notes.append(Note(level="know", where=f"frame {frame.index}", text=text))
    return notes


class _Art:
    """The art of one decal being looked through."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.seen: set[tuple[int, int]] = set()
        self.found: list[Breach] = []

    def _say(self, breach: Breach) -> None:
        if breach not in self.found:
            self.found.append(breach)

    def look_at(self, stream: pikepdf.Page | Stream, given: pikepdf.Object, depth: int = 0) -> None:
        """A stream's operators and all that they name."""
        if depth > DEPTH_MOST:
            return
        for step in pikepdf.parse_content_stream(stream, WATCHED):
            operator, operands = str(step.operator), step.operands
            if operator in SETS:
                self._device(SETS[operator], "a colour")
            elif operator == "INLINE IMAGE":
                self.colour(_inline_space(operands[0]), "a picture")
            elif operator in ("cs", "CS"):
                spaces = given.get("/ColorSpace", Dictionary())
                self.colour(spaces.get(str(operands[0]), operands[0]), "a colour")
            elif operator == "sh":
                shading = given.get("/Shading", Dictionary()).get(str(operands[0]))
                if shading is not None:
                    self.colour(shading.get("/ColorSpace"), "a gradient")
        for pattern in _values(given, "/Pattern"):
            if isinstance(pattern, Stream):
                self._inside(pattern, depth)
            elif "/Shading" in pattern:
                self.colour(pattern.Shading.get("/ColorSpace"), "a gradient")
        for state in _values(given, "/ExtGState"):
            self._state(state, depth)
        for font in _values(given, "/Font"):
            self._font(font)
        for thing in _values(given, "/XObject"):
            self._thing(thing, depth)

    def _inside(self, stream: Stream, depth: int) -> None:
        if stream.objgen in self.seen and stream.objgen != (0, 0):
            return
        self.seen.add(stream.objgen)
        self._stored(stream)
        self.look_at(stream, stream.get("/Resources", Dictionary()), depth + 1)

    def _thing(self, thing: pikepdf.Object, depth: int) -> None:
        kind = thing.get("/Subtype")
        if kind == "/PS":
            self._say(Breach("PostScript in it", "Export it again without."))
        elif not isinstance(thing, Stream):
            return
        elif kind == "/Form":
            self.colour(thing.get("/Group", Dictionary()).get("/CS"), "the space it blends in")
            self._inside(thing, depth)
        elif kind == "/Image":
            self._stored(thing)
            self.colour(thing.get("/ColorSpace"), "a picture")
            if "/Alternates" in thing or "/OPI" in thing:
                self._say(Breach("a stand-in for a picture", "Export it again with the picture."))

    def _stored(self, stream: Stream) -> None:
        filters = stream.get("/Filter", Array())
        named = [filters] if isinstance(filters, Name) else list(filters)
        if any(each == "/LZWDecode" for each in named):
            self._say(Breach("LZW compression", "Export it again."))
        if "/F" in stream:
            self._say(Breach("content in another file", "Export it again as one file."))

    def _state(self, state: pikepdf.Object, depth: int) -> None:
        if "/TR" in state or state.get("/TR2", Name.Default) != Name.Default:
            self._say(Breach("a transfer curve", "Export it again without."))
        mask = state.get("/SMask")
        if isinstance(mask, Dictionary) and "/G" in mask:
            self._thing(mask.G, depth)

    def _font(self, font: pikepdf.Object) -> None:
        if font.get("/Subtype") == "/Type3":
            return
        inner = font.get("/DescendantFonts", Array([font]))[0]
        about = inner.get("/FontDescriptor", Dictionary())
        if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(about.keys()):
            name = str(font.get("/BaseFont", "/unnamed")).removeprefix("/")
            self._say(
                Breach(f"the font {name[:60]} without its outlines", "Embed it, or outline it.",
                       "look")
            )  # fmt: skip

    def colour(self, space: pikepdf.Object | None, where: str) -> None:
        """A colour space that rests on inks or lights of another device than the profile's."""
        if isinstance(space, Name):
            self._device(DEVICES.get(str(space), ""), where)
        elif isinstance(space, Array) and len(space) > 1:
            kind = str(space[0])
            if kind in ("/Indexed", "/I", "/Pattern"):
                self.colour(space[1], where)
            elif kind in ("/Separation", "/DeviceN") and len(space) > 2:
                self.colour(space[2], where)

    def _device(self, device: str, where: str) -> None:
        if device and device != self.space:
            wanted = "with a profile" if device == "RGB" else f"in {self.space} or with a profile"
            what = f"{where} in {device} of no profile where the output is {self.space}"
            self._say(Breach(what, f"Export it {wanted}."))


def _inline_space(image: pikepdf.Object) -> pikepdf.Object | None:
    """The colour space of a picture that stands in the content itself."""
    given = getattr(image, "obj", image)
    try:
        found = given.get("/CS", given.get("/ColorSpace"))
    except (AttributeError, TypeError, ValueError):
        return None
    return found if isinstance(found, pikepdf.Object) else None


def _values(given: pikepdf.Object, key: str) -> Iterator[pikepdf.Object]:
    """The things of one kind among resources; what is of no known kind is passed over."""
    held = given.get(key)
    if isinstance(held, Dictionary):
        for _, thing in sorted(held.items()):
            if isinstance(thing, Dictionary | Stream):
                yield thing
