"""A scan or photograph becomes grey levels, its resolution and what its file says of it.

Pixel coordinates: px, x to the right, y down, (0, 0) at the outer corner of the first pixel.
"""

import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from nestplan.faults import Fault

Grey = NDArray[np.uint8]

KINDS = ("PNG", "JPEG", "TIFF", "WEBP")
BYTES_MOST = 1_400_000_000  # a square 1.4 m at 300 dpi in colour is 0.8 of it
ROWS = 1024  # turned to grey at a time
ORIENTATION, CAMERA_TAGS, EXIF = 274, {33434, 33437, 37386}, 0x8769  # Exif 2.3, 4.6.4 and 4.6.5
PLACEHOLDERS = (72.0, 96.0)  # dpi that programs write when they know none
DPI_LEAST, DPI_MOST = 20.0, 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """Grey levels (h, w), 0 black, as a person would turn the picture upright.

    px_per_mm: across and down; None where the file does not say or cannot be believed.
    assumed: the resolution is one that programs write when they know none.
    camera: the file tells of an exposure.
    """

    source: str
    grey: Grey
    px_per_mm: tuple[float, float] | None
    assumed: bool
    camera: bool


def open_picture(path: Path) -> Picture:
    """Read a picture, within bounded memory. raises: Fault."""
    source = str(path)
    with _large_allowed():
        try:
            with path.open("rb") as file, Image.open(file, formats=KINDS) as image:
                _refuse(image, source)
                return _read(image, source)
        except FileNotFoundError:
            raise Fault(
                what="there is no such file", where=source, do="look at the path and its spelling"
            ) from None
        except IsADirectoryError:
            raise Fault(what="this is a folder", where=source, do="name the scan in it") from None
        except PermissionError:
            raise Fault(
                what="the file may not be read", where=source, do="ask for the right to read it"
            ) from None
        except UnidentifiedImageError:
            raise Fault(
                what="this is no picture that can be read",
                where=source,
                do="hand in a scan as TIFF, PNG, JPEG or WebP",
            ) from None
        except (OSError, SyntaxError, ValueError, EOFError, zlib.error) as error:
            raise Fault(
                what=f"the picture is cut off or damaged ({error})",
                where=source,
                do="copy it whole, or scan again",
            ) from None
        except MemoryError:
            raise Fault(
                what="the picture needs more memory than there is",
                where=source,
                do="scan in grey at 300 dpi",
            ) from None


@contextmanager
def _large_allowed() -> Iterator[None]:
    """Pillow refuses 180 million pixels; a frame scanned at 300 dpi has 270: we bound bytes."""
    usual = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd metadata; what matters is checked here
            yield
    finally:
        Image.MAX_IMAGE_PIXELS = usual


def _refuse(image: Image.Image, source: str) -> None:
    """What cannot be one scan of one sheet, told before its pixels are unfolded."""
    pages = getattr(image, "n_frames", 1)
    if pages > 1:
        moving = getattr(image, "is_animated", False) and image.format != "TIFF"
        raise Fault(
            what="the picture moves" if moving else f"the file holds {pages} pictures",
            where=source,
            do="hand in one still picture of one sheet",
        )
    if image.format == "JPEG":
        image.draft("L", image.size)  # decodes colour to grey straight away: a third of the memory
    deep = 4 if image.mode in {"I", "F"} else 2 if image.mode.startswith("I;16") else 1
    size = image.width * image.height * len(image.getbands()) * deep
    if size > BYTES_MOST:
        raise Fault(
            what=f"the picture has {image.width} × {image.height} pixels: too many to hold at once",
            where=source,
            do="scan in grey at 300 dpi",
        )


def _read(image: Image.Image, source: str) -> Picture:
    exif = image.getexif()
    camera = bool(CAMERA_TAGS & set(exif.get_ifd(EXIF)))
    turned = int(exif.get(ORIENTATION, 1) or 1)
    across, down = _dpi(image)
    grey = _upright(_grey(image), turned)
    if turned >= 5:
        across, down = down, across
    known = min(across, down) >= DPI_LEAST and max(across, down) <= DPI_MOST
    return Picture(
        source=source,
        grey=grey,
        px_per_mm=(across / 25.4, down / 25.4) if known else None,
        assumed=any(abs(across - dpi) < 0.6 and abs(down - dpi) < 0.6 for dpi in PLACEHOLDERS),
        camera=camera,
    )


def _dpi(image: Image.Image) -> tuple[float, float]:
    """Resolution as the file says it, 0 where it does not; PNG's whole pixels a metre rounded."""
    try:
        across, down = (float(value) for value in image.info.get("dpi", (0, 0)))
    except (TypeError, ValueError, ZeroDivisionError):
        return 0.0, 0.0
    if not (np.isfinite(across) and np.isfinite(down)):
        return 0.0, 0.0
    return _whole(across), _whole(down)


def _whole(dpi: float) -> float:
    """300 dpi comes back from a PNG as 299.9994."""
    return float(round(dpi)) if abs(dpi - round(dpi)) < 0.015 else dpi


def _grey(image: Image.Image) -> Grey:
    """Luminance of any mode, a band of rows at a time; what is transparent is white."""
    image.load()
    if image.mode == "L":
        return np.asarray(image)
    grey = np.empty((image.height, image.width), dtype=np.uint8)
    deep = image.mode in {"I", "F"} or image.mode.startswith("I;16")
    most = max(_bands_most(image), 1e-9) if deep else 255.0
    for top in range(0, image.height, ROWS):
        below = min(top + ROWS, image.height)
        band = image.crop((0, top, image.width, below))
        if deep:
            levels = np.asarray(band).astype(np.float32) * (255.0 / most)
            grey[top:below] = np.clip(np.nan_to_num(levels), 0, 255).astype(np.uint8)
        else:
            grey[top:below] = np.asarray(_plain(band))
    return grey


def _bands_most(image: Image.Image) -> float:
    """Greatest level of a deep picture: 12 bits are often stored in 16."""
    tops = (
        np.nan_to_num(np.asarray(image.crop((0, top, image.width, min(top + ROWS, image.height)))))
        for top in range(0, image.height, ROWS)
    )
    return float(max(band.max() for band in tops))


def _plain(band: Image.Image) -> Image.Image:
    if band.mode == "LAB":
        return band.getchannel("L")
    if "A" in band.getbands() or "a" in band.getbands() or "transparency" in band.info:
        solid = band.convert("RGBA")
        white = Image.new("RGBA", band.size, "white")
        return Image.alpha_composite(white, solid).convert("L")
    if band.mode in {"1", "L"}:
        return band.convert("L")
    return band.convert("RGB").convert("L")


def _upright(grey: Grey, turned: int) -> Grey:
    """Undo the eight ways in which a camera may lie (Exif 2.3, table 4, tag 274)."""
    if turned in {5, 6, 7, 8}:
        grey = grey.T  # 5: mirrored along the falling diagonal
    if turned in {2, 3, 6, 7}:
        grey = grey[:, ::-1]
    if turned in {3, 4, 7, 8}:
        grey = grey[::-1]
    return np.ascontiguousarray(grey)
