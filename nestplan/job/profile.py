"""The colour profile that a shop names for its printer: read, and refused where it is none.

source: ICC.1:2004-10, 7.2 (header) and 7.3 (tag table); class `prtr` is an output device.
"""

import io
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from PIL import ImageCms

from nestplan.faults import Fault

Space = Literal["CMYK", "RGB", "Gray"]

BYTES_MOST = 50_000_000
SPACES: dict[bytes, Space] = {b"CMYK": "CMYK", b"RGB ": "RGB", b"GRAY": "Gray"}
CLASSES = {
    b"scnr": "a scanner's",
    b"mntr": "a monitor's",
    b"link": "a link between two devices",
    b"spac": "a colour space's",
    b"abst": "an abstract one",
    b"nmcl": "one of named colours",
}
DO = "name the output profile of this printer on this film, as made by your profiling program"


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """An output profile. source: its path as the shop wrote it; about: its own description."""

    source: str
    data: bytes
    space: Space
    about: str


def read_profile(folder: Path, named: str, where: str) -> Profile:
    """The profile in a folder that a shop names. where: the key in the shop file. raises: Fault."""
    path = folder / named
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        if not inside or Path(named).is_absolute():
            raise Fault(
                what=f"profile {named!r} lies outside the shop's folder",
                where=where,
                do=f"copy the file into {folder} and write its path from there",
            )
        with path.open("rb") as file:
            data = file.read(BYTES_MOST + 1)
    except (OSError, ValueError, RuntimeError) as error:  # a zero byte, a loop of links
        why = getattr(error, "strerror", None) or error
        do = "write the path of an .icc file from the shop file's folder"
        what = f"profile {named!r} cannot be read: {str(why).lower()}"
        raise Fault(what=what, where=where, do=do) from None
    space = _space(data, named, where)
    try:
        about = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(data)))
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
        raise Fault(what=f"profile {named!r} is damaged", where=where, do=DO) from None
    return Profile(source=named, data=data, space=space, about=about.strip() or named)


def _space(data: bytes, named: str, where: str) -> Space:
    """The colours that an output profile is for. raises: Fault where it is another kind."""

    def no(what: str) -> Fault:
        return Fault(what=f"profile {named!r} {what}", where=where, do=DO)

    if len(data) < 132 or data[36:40] != b"acsp":
        raise no("is no ICC profile")
    if struct.unpack(">I", data[:4])[0] != len(data):
        raise no("is not whole: its size is not the one that it says")
    if data[8] > 4:
        raise no(f"is of version {data[8]}, which no PDF may carry; 2 and 4 are known")
    if data[12:16] != b"prtr":
        kind = CLASSES.get(data[12:16], "of an unknown kind")
        raise no(f"is {kind}, not an output profile")
    if data[16:20] not in SPACES:
        name = data[16:20].decode("ascii", "replace").strip()
        raise no(f"is for {name}, not for CMYK, RGB or grey")
    space = SPACES[data[16:20]]
    tags = {data[132 + 12 * k : 136 + 12 * k] for k in range(struct.unpack(">I", data[128:132])[0])}
    if space == "CMYK" and not {b"A2B0", b"B2A0"} <= tags:
        raise no("lacks the tables from and to its inks")
    return space
