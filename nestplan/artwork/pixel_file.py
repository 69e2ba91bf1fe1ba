"""Files of pixels are read whole: PNG, JPEG, TIFF and WebP, whatever their ending says."""

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from nestplan.artwork.pixels import (
    DAMAGE,
    PIXELS_MOST,
    PixelsUnreadable,
    TooManyPixels,
    open_pixels,
)
from nestplan.faults import Fault

KINDS = ("PNG", "JPEG", "TIFF", "WEBP")
WEBP_MOST = 35_000_000  # its decoder holds the picture twice and more
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


def read_pixels(data: bytes, source: str) -> Samples:
    """The picture, upright as its camera says, process inks kept. raises: Fault."""
    try:
        image = open_pixels(data, KINDS)
    except TooManyPixels as trouble:
        raise _unreadable(f"{trouble}, hundreds of millions", source) from None
    except PixelsUnreadable:
        raise _unreadable(
            "it is not a PNG, JPEG, TIFF or WebP, or its first bytes are damaged", source
        ) from None
    most = WEBP_MOST if image.format == "WEBP" else PIXELS_MOST
    if image.width * image.height > most:
        raise Fault(
            what=f"the picture has {image.width} × {image.height} pixels, more than "
            f"{most // 1_000_000} million",
            where=source,
            do="save it at the resolution it is printed at",
        )
    kind = image.format
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damage that can be read over
            return _samples(image, data, kind)
    except DAMAGE as error:
        raise _unreadable(f"it is cut off, damaged or of a rare kind ({error})", source) from None


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
    colour, alpha = _channels(image)
    return Samples(
        colour=colour,
        alpha=alpha,
        dpi=dpi,
        profile=_fitting_profile(profile, 1 if colour.ndim == 2 else colour.shape[2]),
        # bit depth in the header chunk (PNG, 11.2.1)
        deep=image.mode.startswith("I") or (kind == "PNG" and data[24:25] == b"\x10"),
        told=told,
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
        alpha = None
        if see_through is not None:
            alpha = np.where(whole == int(see_through), 0, 255).astype(np.uint8)
        return (whole >> 8).clip(0, 255).astype(np.uint8), alpha
    if image.mode == "CMYK":
        return np.asarray(image), None
    has_alpha = "A" in image.getbands() or "transparency" in image.info
    mode = "RGBA" if has_alpha else "RGB"
    samples = np.asarray(image if image.mode == mode else image.convert(mode))
    colour = samples[:, :, 0] if grey else samples[:, :, :3]
    alpha = samples[:, :, 3] if has_alpha else None
    if alpha is not None and alpha.min() == 255:
        alpha = None
    return np.ascontiguousarray(colour), None if alpha is None else np.ascontiguousarray(alpha)


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
