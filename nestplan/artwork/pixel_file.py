"""Files of pixels are read whole: PNG, JPEG, TIFF and WebP, whatever their ending says."""

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from nestplan.artwork.jpeg import Jpeg, kept_jpeg
from nestplan.artwork.pixels import (
    DAMAGE,
    PIXELS_MOST,
    PixelsUnreadable,
    TooManyPixels,
    open_pixels,
)
from nestplan.artwork.webp import webp_size
from nestplan.faults import Fault

KINDS = ("PNG", "JPEG", "TIFF", "WEBP")
WEBP_MOST = 35_000_000  # its decoder holds the picture twice and more
ROWS_PX = 2_000_000  # taken over at once
DPI_DECIMALS = 2  # PNG stores whole pixels a metre: 300 dpi comes back as 299.9994
GREY = {"1", "L", "LA", "La", "I", "I;16", "I;16B"}
ORIENTATION = 0x0112  # EXIF 2.3, 4.6.4: how a camera was held


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """What a file of pixels holds; see `RasterArt`."""

    colour: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    dpi: tuple[float, float] | None
    profile: bytes | None
    deep: bool
    told: tuple[str, ...]
    jpeg: Jpeg | None


def read_pixels(data: bytes, source: str) -> Samples:
    """The picture, upright as its camera says, process inks kept. raises: Fault."""
    _refuse_many(webp_size(data), WEBP_MOST, source)
    try:
        image = open_pixels(data, KINDS)
    except TooManyPixels as trouble:
        raise _unreadable(f"{trouble}, hundreds of millions", source) from None
    except PixelsUnreadable:
        raise _unreadable(
            "it is not a PNG, JPEG, TIFF or WebP, or its first bytes are damaged", source
        ) from None
    _refuse_many(image.size, PIXELS_MOST, source)
    kind = image.format
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damage that can be read over
            return _samples(image, data, kind)
    except DAMAGE as error:
        raise _unreadable(f"it is cut off, damaged or of a rare kind ({error})", source) from None


def _refuse_many(size: tuple[int, int] | None, most: int, source: str) -> None:
    if size is not None and size[0] * size[1] > most:
        raise Fault(
            what=f"the picture has {size[0]} × {size[1]} pixels, more than {most // 1_000_000} "
            "million",
            where=source,
            do="save it at the resolution it is printed at",
        )


def _samples(image: Image.Image, data: bytes, kind: str | None) -> Samples:
    """The pixels and what the file says of them. raises: one of `DAMAGE`."""
    frames = getattr(image, "n_frames", 1)
    told = (f"the file has {frames} pictures: the first one is planned",) if frames > 1 else ()
    if image.mode == "F" or (kind == "TIFF" and image.mode == "I"):
        raise ValueError(f"its pixels are numbers of 32 bits, mode {image.mode}")
    image.load()
    dpi, profile = _dpi(image), image.info.get("icc_profile")
    if kind != "TIFF" and image.getexif().get(ORIENTATION, 1) != 1:
        turned = ImageOps.exif_transpose(image)
        dpi = dpi[::-1] if dpi and turned.size != image.size else dpi
        image = turned
        kind = None  # its pixels lie otherwise than in the file
    colour, alpha = _channels(image)
    height, width = colour.shape[:2]
    parts = 1 if colour.ndim == 2 else colour.shape[2]
    return Samples(
        colour=colour,
        alpha=alpha,
        dpi=dpi,
        profile=_fitting_profile(profile, parts),
        # bit depth in the header chunk (PNG, 11.2.1)
        deep=image.mode.startswith("I") or (kind == "PNG" and data[24:25] == b"\x10"),
        told=told,
        jpeg=kept_jpeg(data, width, height, parts) if kind == "JPEG" else None,
    )


def _dpi(image: Image.Image) -> tuple[float, float] | None:
    """Resolution across and down, rounded; None when the file does not say."""
    across, down = (float(value) for value in image.info.get("dpi", (0.0, 0.0)))
    if not 1 < min(across, down) <= max(across, down) < 1e6:  # also NaN
        return None
    return round(across, DPI_DECIMALS), round(down, DPI_DECIMALS)


def _channels(image: Image.Image) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None]:
    """Colour and alpha as bytes, whatever the file's mode."""
    grey = image.mode in GREY
    if image.mode.startswith("I"):  # 16 bits of grey
        whole = np.asarray(image).astype(np.int64)
        see_through = image.info.get("transparency")
        mask = None
        if see_through is not None:
            mask = np.where(whole == int(see_through), 0, 255).astype(np.uint8)
        return (whole >> 8).clip(0, 255).astype(np.uint8), mask
    if image.mode == "CMYK":
        return _rows(image, "CMYK"), None
    if "A" not in image.getbands() and "transparency" not in image.info:
        return _rows(image, "L" if grey else "RGB"), None
    alpha: NDArray[np.uint8] | None = _rows(image, "RGBA", 3)
    if alpha is not None and alpha.min() == 255:
        alpha = None
    return _rows(image, "RGBA", 0 if grey else slice(3)), alpha


def _rows(image: Image.Image, mode: str, bands: int | slice = slice(None)) -> NDArray[np.uint8]:
    """Bands of the picture in a mode, (h, w) or (h, w, n).

    Some rows at a time: asked for all of it at once, the library holds it three times.
    """
    width, height = image.size
    step = max(1, ROWS_PX // width)
    whole: NDArray[np.uint8] | None = None
    for top in range(0, height, step):
        part = image.crop((0, top, width, min(height, top + step)))
        samples = np.asarray(part if part.mode == mode else part.convert(mode))
        samples = samples[..., bands] if samples.ndim == 3 else samples
        if whole is None:
            whole = np.empty((height, *samples.shape[1:]), dtype=np.uint8)
        whole[top : top + step] = samples
    assert whole is not None, "a picture has rows"
    return whole


def _fitting_profile(profile: bytes | None, parts: int) -> bytes | None:
    """The file's own ICC profile, if it is one and speaks of these channels (ICC.1, 7.2)."""
    wanted = {1: b"GRAY", 3: b"RGB ", 4: b"CMYK"}[parts]
    if profile and profile[36:40] == b"acsp" and profile[16:20] == wanted:
        return profile
    return None


def _unreadable(why: str, source: str) -> Fault:
    return Fault(
        what=f"the picture cannot be read: {why}",
        where=source,
        do="save it again as PNG, or as TIFF with 8 bits a channel, and copy it whole",
    )
