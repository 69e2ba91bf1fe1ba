"""JPEG art that may stand in a PDF as it is, so that no pixel of it is packed anew.

PDF reads baseline and progressive JPEG (ISO 32000-1, 7.4.8). What a reader makes of its
channels is told by the markers at its head (ISO/IEC 10918-1 annex B, 10918-6); where two
readers could differ, the pixels are packed anew instead.
"""

from collections.abc import Iterator
from dataclasses import dataclass

START_OF_SCAN, END = 0xDA, 0xD9
FRAMES = (0xC0, 0xC1, 0xC2)  # baseline, extended, progressive; no others in PDF
ALONE = (0x01, *range(0xD0, 0xD9))  # markers without a length
JFIF, ADOBE = b"JFIF\0", b"Adobe"
TRANSFORMS = {3: (0, 1), 4: (0, 2)}  # of the Adobe marker, by channels: as they are, or YCC
RGB_BY_NAME = b"RGB"  # channels so called are no YCbCr for some readers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Jpeg:
    """A whole JPEG file. inverted: its process inks are stored as 255 less the ink."""

    data: bytes
    inverted: bool


def kept_jpeg(data: bytes, width: int, height: int, channels: int) -> Jpeg | None:
    """The file as a PDF may carry it; None where its pixels have to be packed anew.

    width, height, channels: as a decoder found them.
    """
    frame, jfif, adobe = None, False, None
    for marker, body in _segments(data):
        if marker in FRAMES and frame is None:
            frame = body
        elif 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xCC):
            return None  # a kind that PDF has not, or a second frame
        elif marker == 0xE0 and body.startswith(JFIF):
            jfif = True
        elif marker == 0xEE and body.startswith(ADOBE) and len(body) >= 12:
            adobe = body[11]
    if frame is None or len(frame) < 6 + 3 * channels or len(data) > width * height * channels:
        return None  # the last: more is carried in it than the picture
    said = int.from_bytes(frame[1:3], "big"), int.from_bytes(frame[3:5], "big")
    if frame[0] != 8 or said != (height, width) or frame[5] != channels:
        return None
    if adobe is not None and channels > 1 and adobe not in TRANSFORMS[channels]:
        return None
    if channels == 3 and adobe is None and not jfif and frame[6:15:3] == RGB_BY_NAME:
        return None
    return Jpeg(data=data, inverted=channels == 4)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Markers and what they say, up to the first scan."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill
            at += 1
        elif marker in ALONE:
            at += 2
        elif marker in (START_OF_SCAN, END):
            return
        else:
            length = int.from_bytes(data[at + 2 : at + 4], "big")
            yield marker, data[at + 4 : at + 2 + length]
            at += 2 + max(length, 2)
