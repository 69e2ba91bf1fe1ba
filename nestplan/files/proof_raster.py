"""Raster art made lighter for the proof: a proof is sent by mail and read on any screen.

Only the pixels that a drawing at its scale can show are kept, with room to look closer;
the print PDF keeps them all. What is not a plain grey or RGB image is left as it is.
"""

import io
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pikepdf
from pikepdf import Array, Name, Pdf, PdfImage, Stream
from PIL import Image

from nestplan.artwork import Decal, Picture
from nestplan.artwork.pixels import DAMAGE

KEPT_PER_MM = 600 / 25.4  # pixels on paper: a loupe at four times still shows 150 a inch
UNREADABLE = (pikepdf.PdfError, *DAMAGE)
LEAST_PX = 256  # smaller images are not worth the trouble


def lighter(decal: Decal, denominator: float) -> Decal:
    """The decal with no more pixels than a drawing 1:denominator needs."""
    left, bottom, right, top = decal.picture.box_mm
    needed = sorted(side / denominator * KEPT_PER_MM for side in (right - left, top - bottom))
    with pikepdf.open(io.BytesIO(decal.picture.pdf)) as pdf:
        try:
            images = _plain_images(pdf)
        except UNREADABLE:
            return decal
        reduced = [image for image in images if _could_reduce(image, needed)]
        if not reduced:
            return decal
        held = io.BytesIO()
        pdf.save(held, deterministic_id=True)
    return replace(decal, picture=Picture(pdf=held.getvalue(), box_mm=decal.picture.box_mm))


def _plain_images(pdf: Pdf) -> list[Stream]:
    """Images of 8 bit grey or RGB with at most a soft mask of their own size; no masks."""
    images = [
        obj for obj in pdf.objects if isinstance(obj, Stream) and obj.get("/Subtype") == Name.Image
    ]
    masks = {image.SMask.objgen for image in images if "/SMask" in image}
    return [
        image
        for image in images
        if image.objgen not in masks
        and _is_plain(image)
        and ("/SMask" not in image or _is_plain(image.SMask, like=image))
    ]


def _is_plain(image: pikepdf.Object, like: pikepdf.Object | None = None) -> bool:
    space = image.get("/ColorSpace")
    if isinstance(space, Array) and len(space) == 2 and space[0] == Name.ICCBased:
        plain = int(space[1].N) in (1, 3)
    else:
        plain = space in (Name.DeviceGray, Name.DeviceRGB)
    decode = [float(value) for value in image.get("/Decode", Array([]))]
    return bool(
        plain
        and image.get("/BitsPerComponent") == 8
        and decode == [0.0, 1.0] * (len(decode) // 2)
        and not any(key in image for key in ("/Mask", "/Matte", "/ImageMask"))
        and all(image.get(side, 0) > 0 for side in ("/Width", "/Height"))
        and (like is None or (image.Width, image.Height) == (like.Width, like.Height))
    )


def _could_reduce(image: Stream, needed_px: Sequence[float]) -> bool:
    """Reduce an image; one that cannot be unfolded here is left to whoever renders it."""
    try:
        return _reduced(image, needed_px)
    except UNREADABLE:
        return False


def _reduced(image: Stream, needed_px: Sequence[float]) -> bool:
    """Reduce an image and its mask by a whole factor; whether there was anything to gain.

    Colours are averaged by how much they cover, so that no hidden colour comes through.
    """
    sides = sorted((int(image.Width), int(image.Height)))
    times = int(min(side / need for side, need in zip(sides, needed_px, strict=True)))
    if times < 2 or sides[1] <= LEAST_PX:
        return False
    if "/SMask" not in image:
        colour = _decoded(image, times)
        rest = max(1, times * colour.width // int(image.Width))
        _write(image, colour.reduce(rest))
        return True
    colour, mask = _decoded(image), image.SMask
    assert isinstance(mask, Stream), "a soft mask is an image, ISO 32000-1 11.6.5.3"
    cover = _decoded(mask)
    weight = np.asarray(cover, dtype=np.uint16)
    shape = (*weight.shape, 1) if len(colour.getbands()) > 1 else weight.shape
    weighted = np.asarray(colour) * weight.reshape(shape) // 255
    small = np.asarray(Image.fromarray(weighted.astype(np.uint8)).reduce(times), dtype=np.uint16)
    covered = cover.reduce(times)
    over = np.maximum(np.asarray(covered, dtype=np.uint16), 1)
    over = over.reshape((*over.shape, 1)) if small.ndim == 3 else over
    _write(image, Image.fromarray(np.minimum(small * 255 // over, 255).astype(np.uint8)))
    _write(mask, covered)
    return True


def _decoded(image: Stream, times: int = 1) -> Image.Image:
    """The colours alone; the library may hand the mask on as a fourth channel.

    times: a JPEG may be decoded so much smaller, or less: as its blocks allow.
    """
    if image.get("/Filter", Name.FlateDecode) == Name.FlateDecode:  # unfolded once, not twice
        grey = image.get("/ColorSpace") == Name.DeviceGray or (
            isinstance(image.ColorSpace, Array) and int(image.ColorSpace[1].N) == 1
        )
        size, mode = (int(image.Width), int(image.Height)), "L" if grey else "RGB"
        return Image.frombuffer(mode, size, image.read_bytes(), "raw", mode, 0, 1)
    decoded = PdfImage(image).as_pil_image()
    if times > 1 and decoded.format == "JPEG":
        decoded.draft(decoded.mode, (int(image.Width) // times, int(image.Height) // times))
    return decoded.convert("L" if decoded.mode in ("L", "LA") else "RGB")


def _write(image: Stream, pixels: Image.Image) -> None:
    image.write(pixels.tobytes())
    image.Width, image.Height = pixels.size
    if "/Decode" in image:
        del image["/Decode"]
