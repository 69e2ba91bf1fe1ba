"""Colours of their own in a print PDF, and what stands for them where they are not known.

A separation's alternate obeys the rule that all colour of the file obeys (ISO 15930-7): it is
of the kind of ink that the output profile is for.
"""

from pikepdf import Array, Dictionary, Name

from nestplan.job.profile import Space

Process = tuple[float, float, float, float]  # cyan, magenta, yellow, black, 0 to 1


def separation(colour: str, looks: Process, space: Space) -> Array:
    """The colour space of one ink. looks: at full tint, for a screen or a device without it."""
    full, none = _in_space(looks, space), _in_space((0.0, 0.0, 0.0, 0.0), space)
    tint = Dictionary(
        FunctionType=2, Domain=Array([0, 1]), C0=Array([*none]), C1=Array([*full]), N=1
    )
    device = {"CMYK": Name.DeviceCMYK, "RGB": Name.DeviceRGB, "Gray": Name.DeviceGray}[space]
    return Array([Name.Separation, Name(f"/{colour}"), device, tint])


def _in_space(ink: Process, space: Space) -> tuple[float, ...]:
    """source: ISO 32000-1 10.3.4 and 10.3.3, the plain conversions of device colours."""
    if space == "CMYK":
        return ink
    red, green, blue = (round(1 - min(1.0, part + ink[3]), 4) for part in ink[:3])
    if space == "RGB":
        return red, green, blue
    return (round(0.3 * red + 0.59 * green + 0.11 * blue, 4),)
