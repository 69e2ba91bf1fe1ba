"""Jobs and artwork made in the tests, and a reader of SVG that shares no code with ours."""

import io
from pathlib import Path

import numpy as np
import resvg_py
from PIL import Image

from nestplan.artwork import Artwork, Decal, load_artwork
from nestplan.job import DecalOrder, Job, JobFile

XMLNS = (
    'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:shop="http://shop.example/editor"'
)


def svg(body: str, page: str = 'width="100mm" height="60mm" viewBox="0 0 100 60"') -> str:
    """An SVG file; its unit is 1 mm unless `page` says otherwise."""
    return f"<svg {XMLNS} {page}>{body}</svg>"


def job(folder: Path, *orders: dict) -> Job:
    """A job of decals; nothing but its folder and its orders is ever looked at here."""
    decals = [DecalOrder(**{"quantity": 1, "bleed_mm": 0.0, **order}) for order in orders]
    order = JobFile(name="regatta", shop="shop.toml", roll="white", setup="pair", decal=decals)
    return Job(
        path=folder / "regatta.toml",
        order=order,
        shop_path=folder / "shop.toml",
        shop=None,
        roll=None,
        setup=None,
        printer=None,
        cutter=None,
    )


def loaded(folder: Path, art: str | bytes, name: str = "plate.svg", **order) -> Artwork:
    """The artwork of a job with one decal."""
    (folder / name).write_bytes(art if isinstance(art, bytes) else art.encode())
    return load_artwork(job(folder, {"name": "plate", "artwork": name, **order}))


def decal(folder: Path, art: str | bytes, name: str = "plate.svg", **order) -> Decal:
    """The only decal of a job."""
    (found,) = loaded(folder, art, name, **order).decals
    return found


def rendered(body: str, width_px: int, height_px: int) -> np.ndarray:
    """Coverage from 0 to 1, (height, width), of a page of 100 by 60 units made this large.

    resvg reads the file itself: another parser, another cascade, another geometry. It wants
    whole px, which a page in mm has not.
    """
    text = svg(body, f'width="{width_px}" height="{height_px}" viewBox="0 0 100 60"')
    png = resvg_py.svg_to_bytes(svg_string=text, dpi=96, skip_system_fonts=True, languages=["en"])
    alpha = np.asarray(Image.open(io.BytesIO(png)).getchannel("A"))
    assert alpha.shape == (height_px, width_px)
    return alpha / 255


def png(samples: np.ndarray, **save) -> bytes:
    """A PNG file of an array: (h, w) grey, (h, w, 3) RGB, (h, w, 4) RGBA."""
    out = io.BytesIO()
    Image.fromarray(samples).save(out, "PNG", **save)
    return out.getvalue()


def disc(radius_px: float, hole_px: float = 0.0, soft: bool = True) -> np.ndarray:
    """RGBA of a blue disc; soft edges are covered by their share, hard ones wholly or not."""
    half = int(np.ceil(radius_px)) + 5
    at = np.arange(-half, half) + 0.5
    away = np.hypot(*np.meshgrid(at, at))
    cover = np.clip(radius_px - away + 0.5, 0, 1) - np.clip(hole_px - away + 0.5, 0, 1)
    alpha = np.round(255 * cover) if soft else 255 * ((away < radius_px) & (away >= hole_px))
    samples = np.zeros((2 * half, 2 * half, 4), dtype=np.uint8)
    samples[..., 2] = 200
    samples[..., 3] = alpha
    return samples
