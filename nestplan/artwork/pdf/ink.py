"""Colours of a PDF as a person picks them: an RGB value, process inks, or a spot's name."""

from dataclasses import dataclass

import pikepdf
from pikepdf import Name

from nestplan.artwork.pdf.resources import named
from nestplan.figures import short


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """A colour. family: rgb, grey, cmyk, spot, or other (patterns, Lab).

    parts: its components from 0 to 1. spots: names of the inks of a spot colour that are on.
    """

    family: str
    parts: tuple[float, ...] = ()
    spots: tuple[str, ...] = ()

    @property
    def rgb(self) -> tuple[int, int, int] | None:
        """Three bytes. Process inks are mixed by the plain rule (1 - ink) (1 - black)."""
        if self.family == "rgb":
            red, green, blue = self.parts
        elif self.family == "grey":
            red = green = blue = self.parts[0]
        elif self.family == "cmyk":
            *inks, black = self.parts
            red, green, blue = ((1 - ink) * (1 - black) for ink in inks)
        else:
            return None
        red, green, blue = (round(255 * min(1.0, max(0.0, part))) for part in (red, green, blue))
        return red, green, blue

    @property
    def said(self) -> str:
        """For people: "#e6007e", "spot:Contour"."""
        if self.spots:
            return ", ".join(f"spot:{name}" for name in self.spots)
        if self.family == "cmyk":
            inks = " ".join(short(round(100 * part)) for part in self.parts)
            return f"{_hex(self.rgb)} (CMYK {inks})"
        return _hex(self.rgb) if self.rgb is not None else self.family

    @property
    def total(self) -> float:
        """Ink laid down, in hundredths of full ink; 0 where it is not known."""
        return 100 * sum(self.parts) if self.family == "cmyk" else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A colour space. count: of its components."""

    family: str
    count: int
    names: tuple[str, ...] = ()

    def ink(self, values: list[float]) -> Ink:
        """A colour of this space; missing components count as 0."""
        parts = tuple((values + [0.0] * self.count)[: self.count])
        if self.family != "spot":
            return Ink(family=self.family, parts=parts)
        on = tuple(name for name, part in zip(self.names, parts, strict=False) if part > 0)
        return Ink(family="spot", parts=parts, spots=on)

    @property
    def first(self) -> Ink:
        """The colour that a space starts with (ISO 32000-1, 8.6.5 and 8.6.6)."""
        if self.family == "cmyk":
            return self.ink([0.0, 0.0, 0.0, 1.0])
        return self.ink([1.0] * self.count if self.family == "spot" else [0.0] * self.count)


GREY, RGB, CMYK = (
    Space(family=family, count=count) for family, count in (("grey", 1), ("rgb", 3), ("cmyk", 4))
)
OTHER = Space(family="other", count=0)
_PLAIN = {
    "/DeviceGray": GREY, "/CalGray": GREY, "/G": GREY,
    "/DeviceRGB": RGB, "/CalRGB": RGB, "/RGB": RGB,
    "/DeviceCMYK": CMYK, "/CMYK": CMYK,
}  # fmt: skip
_BY_COUNT = {1: GREY, 3: RGB, 4: CMYK}


def space_of(given: pikepdf.Object | None, resources: pikepdf.Object | None) -> Space:
    """A colour space from its name or its array; what is not known is `OTHER`."""
    if isinstance(given, Name):
        plain = _PLAIN.get(str(given))
        if plain is not None:
            return plain
        return space_of(named(resources, "/ColorSpace", given), None)
    if not isinstance(given, pikepdf.Array) or len(given) < 2:
        return _PLAIN.get(str(given[0]), OTHER) if isinstance(given, pikepdf.Array) else OTHER
    kind = str(given[0])
    if kind == "/ICCBased":
        return _BY_COUNT.get(int(given[1].get("/N", 0)), OTHER)
    if kind == "/Separation":
        return Space(family="spot", count=1, names=(str(given[1])[1:],))
    if kind == "/DeviceN":
        names = tuple(str(name)[1:] for name in given[1])
        return Space(family="spot", count=len(names), names=names)
    if kind in ("/Indexed", "/I"):
        return space_of(given[1], resources)
    return _PLAIN.get(kind, OTHER)


def is_device(name: pikepdf.Object) -> bool:
    """Whether a name stands for one of the spaces that need no resource."""
    return str(name) in ("/DeviceGray", "/DeviceRGB", "/DeviceCMYK")


def _hex(rgb: tuple[int, int, int] | None) -> str:
    return "#" + bytes(rgb or (0, 0, 0)).hex()
