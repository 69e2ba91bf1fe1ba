"""Bleed made of the art's edge, judged by its look: ink everywhere, in the colour of the edge.

The pictures are rendered by pdfium, or by poppler where it is installed; what a colour must
be is worked out here from the formula the art was drawn by.
"""

import io
import shutil
import subprocess
from collections.abc import Callable

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from PIL import Image

from nestplan.artwork import Decal
from tests.artwork.handmade import decal, loaded, png, svg

PER_MM = 8.0
DPI = 254.0  # ten pixels a millimetre


def rendered(found: Decal) -> tuple[np.ndarray, np.ndarray]:
    """Colours (h, w, 3) of the picture on white, and decal coordinates (h, w, 2) of pixels."""
    page = pypdfium2.PdfDocument(found.picture.pdf)[0]
    left, bottom, right, top = found.picture.box_mm
    seen = page.render(scale=PER_MM * 25.4 / 72).to_numpy()[..., :3][..., ::-1]
    height, width = seen.shape[:2]
    x = left + (np.arange(width) + 0.5) * (right - left) / width
    y = top - (np.arange(height) + 0.5) * (top - bottom) / height
    return seen.astype(float), np.stack(np.meshgrid(x, y), axis=-1)


def in_ring(found: Decal, at: np.ndarray, slack_mm: float = 0.1) -> np.ndarray:
    """Pixels between the contour and the end of the bleed."""
    region = found.contour.region
    ring = region.buffer(found.bleed_mm - slack_mm).difference(region.buffer(slack_mm))
    return shapely.contains_xy(ring, at[..., 0], at[..., 1])


def nearest_edge(found: Decal, points: np.ndarray) -> np.ndarray:
    """The point of the contour that is nearest to each of the points."""
    edge = found.contour.region.boundary
    return shapely.get_coordinates(
        shapely.line_interpolate_point(
            edge, shapely.line_locate_point(edge, shapely.points(points))
        )
    )


def off(found: Decal, expected: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """How far ring pixels are from the colour of the nearest edge point, 0 to 255.

    expected: from decal coordinates (n, 2) to colours (n, 3).
    """
    seen, at = rendered(found)
    ring = in_ring(found, at)
    assert ring.sum() > 1000, "the picture holds the bleed"
    colours = expected(nearest_edge(found, at[ring]))
    return np.abs(seen[ring] - colours).max(axis=1)


# ---- pixels ----------------------------------------------------------------------------------


def by_angle(points: np.ndarray) -> np.ndarray:
    """A colour wheel without white in it."""
    angle = np.arctan2(points[:, 1], points[:, 0])
    return np.stack([120 + 100 * np.cos(angle + k * 2.1) for k in range(3)], axis=1)


def wheel(radius_mm: float = 12.0, soft_px: float = 1.0, rim=(255, 255, 255)) -> np.ndarray:
    """RGBA of a disc whose colour goes by its angle; its soft rim is of another colour."""
    half = int(radius_mm * DPI / 25.4) + 12
    at = np.arange(-half, half) + 0.5
    x, y = np.meshgrid(at, -at)
    away = np.hypot(x, y)
    edge = radius_mm * DPI / 25.4
    colour = by_angle(np.stack([x.ravel(), y.ravel()], axis=1)).reshape(*x.shape, 3)
    cover = np.clip((edge - away) / soft_px + 0.5, 0, 1)
    colour[cover < 0.9] = rim
    return np.dstack([np.round(colour), np.round(255 * cover)]).astype(np.uint8)


@pytest.mark.parametrize("how", ["edge", "mirror"])
@pytest.mark.parametrize("soft_px", [1.0, 6.0])
def test_a_ring_of_pixels_has_the_colours_of_the_edge(tmp_path, how, soft_px):
    """Also round a soft edge whose faded rim is white: colours come from well inside."""
    art = png(wheel(soft_px=soft_px), dpi=(DPI, DPI))
    order = {"contour": "outline", "bleed_mm": 2.0}

    bare = decal(tmp_path, art, "a.png", **order)
    found = decal(tmp_path, art, "a.png", **order, make_bleed=how)

    away = off(found, by_angle)
    assert away.mean() < 3
    assert np.quantile(away, 0.99) < 12
    assert [fault.kind for fault in bare.faults] == ["bleed"]
    assert not found.faults


def test_the_pictures_own_pixels_stay_what_they_are(tmp_path):
    samples = wheel()
    order = {"contour": "outline", "bleed_mm": 2.0}

    found = decal(tmp_path, png(samples, dpi=(DPI, DPI)), "a.png", **order, make_bleed="edge")

    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        images = pdf.pages[0].Resources.XObject
        assert set(images) == {"/Pixels", "/Ring"}
        own = np.asarray(pikepdf.PdfImage(images.Pixels).as_pil_image().convert("RGB"))
        cover = np.asarray(pikepdf.PdfImage(images.Pixels.SMask).as_pil_image())
    np.testing.assert_array_equal(own, samples[..., :3])
    np.testing.assert_array_equal(cover, samples[..., 3])


def test_inside_the_contour_nothing_changes(tmp_path):
    art, order = png(wheel(), dpi=(DPI, DPI)), {"contour": "outline", "bleed_mm": 2.0}
    pictures = []
    for how in ("none", "edge"):
        found = decal(tmp_path, art, "a.png", **order, make_bleed=how)
        seen, at = rendered(found)
        inside = shapely.contains_xy(found.contour.region.buffer(-0.3), at[..., 0], at[..., 1])
        low, high = at[inside].min(axis=0), at[inside].max(axis=0)
        pictures.append((seen[inside].mean(axis=0), low, high))

    for one, other in zip(*pictures, strict=True):
        np.testing.assert_allclose(one, other, atol=0.5)


def test_process_colours_stay_process_colours(tmp_path):
    """A rectangle of four inks, cut along its page: the ring has the very same inks."""
    colour = np.zeros((150, 200, 4), dtype=np.uint8)
    colour[..., 0], colour[..., 3] = np.linspace(10, 250, 200)[None, :], 40
    out = io.BytesIO()
    Image.fromarray(colour, "CMYK").save(out, "TIFF", dpi=(DPI, DPI))

    found = decal(
        tmp_path, out.getvalue(), "a.tif", contour="page", bleed_mm=2.0, make_bleed="edge"
    )

    left, bottom, right, top = found.picture.box_mm
    assert min(-left, right) >= 12.0
    assert min(-bottom, top) >= 9.5
    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        ring = pdf.pages[0].Resources.XObject.Ring
        assert ring.ColorSpace == "/DeviceCMYK"
        inks = np.frombuffer(ring.read_bytes(), dtype=np.uint8)
        there = np.asarray(pikepdf.PdfImage(ring.SMask).as_pil_image()) == 255
        inks = inks.reshape(*there.shape, 4)
    column = inks[there.shape[0] // 2]
    assert tuple(column[there[there.shape[0] // 2]][0]) == tuple(colour[75, 0])
    assert set(inks[there][:, 3].tolist()) == {40}


def test_a_mirror_shows_the_art_beyond_the_edge(tmp_path):
    """Columns grow lighter by 4 a pixel; 1 mm outside looks like 1 mm inside."""
    colour = np.zeros((100, 200, 3), dtype=np.uint8)
    colour[:] = (20 + np.abs(np.arange(200) - 100))[None, :, None]

    found = decal(
        tmp_path, png(colour, dpi=(DPI, DPI)), "a.png", contour="page", bleed_mm=2.0,
        make_bleed="mirror",
    )  # fmt: skip

    seen, at = rendered(found)
    row = seen[len(seen) // 2]
    x = at[len(seen) // 2, :, 0]
    outside, inside = np.interp([10.995, 9.005], x, row[:, 0])
    assert outside == pytest.approx(inside, abs=2)


def test_a_hole_is_bled_into(tmp_path):
    art = png(wheel(), dpi=(DPI, DPI))
    samples = np.array(Image.open(io.BytesIO(art)))
    at = np.arange(len(samples)) + 0.5 - len(samples) / 2
    samples[np.hypot(*np.meshgrid(at, at)) < 50, 3] = 0

    found = decal(
        tmp_path, png(samples, dpi=(DPI, DPI)), "a.png", contour="outline", bleed_mm=2.0,
        make_bleed="edge",
    )  # fmt: skip

    assert len(found.contour.rings) == 2
    assert off(found, by_angle).mean() < 6


@pytest.mark.parametrize("how", ["edge", "mirror"])
def test_art_that_stands_clear_of_its_contour_gets_no_ring(tmp_path, how):
    art = png(wheel(), dpi=(DPI, DPI))

    plain = decal(tmp_path, art, "a.png", contour="offset:2.0", bleed_mm=2.0)
    found = decal(tmp_path, art, "a.png", contour="offset:2.0", bleed_mm=2.0, make_bleed=how)

    assert plain.picture.pdf == found.picture.pdf


def test_art_that_goes_on_keeps_its_own_bleed(tmp_path):
    """The contour runs 3 mm inside the edge: what is printed beyond it is the art itself."""
    art = png(wheel(), dpi=(DPI, DPI))

    plain = decal(tmp_path, art, "a.png", contour="offset:-3.0", bleed_mm=2.0)
    found = decal(tmp_path, art, "a.png", contour="offset:-3.0", bleed_mm=2.0, make_bleed="edge")

    assert plain.picture.pdf == found.picture.pdf


def test_a_photograph_on_white_is_bled_over_its_background(tmp_path):
    """An opaque picture: its edge is found on the white, the ring covers the white."""
    samples = wheel(rim=(255, 255, 255)).astype(float)
    cover = samples[..., 3:] / 255
    flat = np.round(samples[..., :3] * cover + 255 * (1 - cover)).astype(np.uint8)

    found = decal(
        tmp_path, png(flat, dpi=(DPI, DPI)), "a.png", contour="outline", bleed_mm=2.0,
        make_bleed="edge",
    )  # fmt: skip

    assert off(found, by_angle).mean() < 4
    assert not found.faults


def test_the_same_order_gives_the_same_bytes_and_says_what_was_made(tmp_path):
    art, order = png(wheel(), dpi=(DPI, DPI)), {"contour": "outline", "bleed_mm": 2.0}

    one = loaded(tmp_path, art, "a.png", **order, make_bleed="edge")
    two = loaded(tmp_path, art, "a.png", **order, make_bleed="edge")

    assert one.decals[0].picture.pdf == two.decals[0].picture.pdf
    (note,) = [note for note in one.notes if "bleed" in note.text]
    assert note.level == "know"
    assert "along 100 % of the contour (75 mm)" in note.text


# ---- drawings --------------------------------------------------------------------------------

RED, BLUE, GREEN = (204, 34, 34), (0, 51, 102), (34, 170, 68)
CUT = '<g id="cut" fill="none"><path d="M10 10H70V40H10Z"/></g>'  # its middle: 40, 25
LAYER = {"contour": "layer:cut", "bleed_mm": 2.0, "make_bleed": "edge"}
HALVES = '<path d="M10 10H40V40H10Z" fill="#c22"/><path d="M40 10H70V40H40Z" fill="#036"/>'


def halves(points: np.ndarray) -> np.ndarray:
    """Red on the left of the middle, blue on the right."""
    return np.where(points[:, :1] < 0, RED, BLUE)


def gradient(points: np.ndarray) -> np.ndarray:
    """From red at x -30 to blue at x 30."""
    share = (points[:, :1] + 30) / 60
    return np.array(RED) * (1 - share) + np.array(BLUE) * share


def plain(colour) -> Callable[[np.ndarray], np.ndarray]:
    return lambda points: np.broadcast_to(np.array(colour), (len(points), 3))


STOPS = '<stop offset="0" stop-color="#c22"/><stop offset="1" stop-color="#036"/>'
DRAWINGS = {
    "two fills": (HALVES, halves),
    "one fill": ('<path d="M10 10H70V40H10Z" fill="#c22"/>', plain(RED)),
    "a gradient over the box": (
        f'<linearGradient id="g">{STOPS}</linearGradient>'
        '<rect x="10" y="10" width="60" height="30" fill="url(#g)"/>',
        gradient,
    ),
    "a gradient in page units": (
        f'<linearGradient id="g" gradientUnits="userSpaceOnUse" x1="10" x2="70">{STOPS}'
        '</linearGradient><rect x="10" y="10" width="60" height="30" fill="url(#g)"/>',
        gradient,
    ),
    "a border": (
        '<path d="M12 12H68V38H12Z" fill="#036" stroke="#c22" stroke-width="4"/>',
        plain(RED),
    ),
    "a style sheet and a turned group": (
        "<style>.f{fill:#c22}</style><g transform='translate(40 25) rotate(90) scale(2)'>"
        '<path class="f" d="M-7.5 -15H7.5V15H-7.5Z"/></g>',
        plain(RED),
    ),
    "clipped at the cut": (
        '<clipPath id="c"><path d="M10 10H70V40H10Z"/></clipPath><g clip-path="url(#c)">'
        '<path d="M-9 0H40V99H-9Z" fill="#c22"/><path d="M40 0H99V99H40Z" fill="#036"/></g>',
        halves,
    ),
    "a paint that half covers": (
        '<path d="M10 10H70V40H10Z" fill="#c22"/><path d="M10 10H70V40H10Z" fill="#036" '
        'fill-opacity="0.5"/>',
        plain((102, 42.5, 68)),
    ),
    "a used shape": (
        '<defs><path id="p" d="M0 0H60V30H0Z"/></defs><use href="#p" x="10" y="10" fill="#2a4"/>',
        plain(GREEN),
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_paints_go_on_beyond_the_contour(tmp_path, name):
    """Every pixel of the ring has the colour of the nearest edge; corners between two aside."""
    body, expected = DRAWINGS[name]

    found = decal(tmp_path, svg(body + CUT), **LAYER)

    away = off(found, expected)
    assert away.mean() < 2
    assert np.quantile(away, 0.98) < 10
    assert not found.faults


def test_poppler_sees_the_same_ring(tmp_path):
    """A second renderer, where it is installed (Debian's poppler-utils)."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed")
    found = decal(tmp_path, svg(HALVES + CUT), **LAYER)
    (tmp_path / "art.pdf").write_bytes(found.picture.pdf)
    call = ["pdftoppm", "-r", str(PER_MM * 25.4), "-png", "-singlefile", "art.pdf", "seen"]
    subprocess.run(call, cwd=tmp_path, check=True)

    theirs = np.asarray(Image.open(tmp_path / "seen.png").convert("RGB")).astype(float)

    ours, at = rendered(found)
    height, width = (min(pair) for pair in zip(ours.shape[:2], theirs.shape[:2], strict=True))
    ring = in_ring(found, at[:height, :width])
    away = np.abs(ours[:height, :width] - theirs[:height, :width]).max(axis=2)[ring]
    assert away.mean() < 2


def test_shapes_stay_shapes(tmp_path):
    found = decal(tmp_path, svg(HALVES + CUT), **LAYER)

    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        kinds = {
            str(each.get("/Subtype")) for each in pdf.objects if isinstance(each, pikepdf.Stream)
        }
    assert "/Image" not in kinds


def test_a_hole_of_a_drawing_is_bled_into_and_a_bare_edge_stays_bare(tmp_path):
    """The left half is painted, with a round hole; the right half is film."""
    art = svg(
        '<path fill-rule="evenodd" fill="#c22" d="M10 10H40V40H10Z'
        'M20 25A5 5 0 0 0 30 25A5 5 0 0 0 20 25"/>'
        '<g id="cut" fill="none"><path d="M10 10H70V40H10Z"/><circle cx="25" cy="25" r="5"/></g>'
    )

    found = decal(tmp_path, art, **LAYER)

    away = off(found, lambda points: np.where(points[:, :1] < 0, RED, (255, 255, 255)))
    assert away.mean() < 3
    assert np.quantile(away, 0.98) < 10


def test_a_drawing_with_bleed_of_its_own_is_left_alone(tmp_path):
    art = svg('<rect x="5" y="5" width="70" height="40" fill="#036"/>' + CUT)

    plain_one = decal(tmp_path, art, **{**LAYER, "make_bleed": "none"})
    found = decal(tmp_path, art, **LAYER)

    assert found.picture.pdf == plain_one.picture.pdf


def test_where_bleed_is_too_short_it_goes_on_from_where_it_ends(tmp_path):
    art = svg('<rect x="9" y="9" width="62" height="32" fill="#036"/>' + CUT)

    found = decal(tmp_path, art, **LAYER)

    assert off(found, plain(BLUE)).mean() < 1


def test_a_picture_at_the_edge_is_carried_out_as_pixels_and_said(tmp_path):
    import base64

    samples = np.zeros((300, 600, 3), dtype=np.uint8)
    samples[:, :300], samples[:, 300:] = RED, BLUE
    data = base64.b64encode(png(samples)).decode()
    art = svg(
        f'<image x="10" y="10" width="60" height="30" href="data:image/png;base64,{data}"/>' + CUT
    )

    made = loaded(tmp_path, art, **LAYER)

    (found,) = made.decals
    away = off(found, halves)
    assert away.mean() < 3
    (note,) = [note for note in made.notes if "bleed" in note.text]
    assert note.level == "look"
    assert "a picture, a mask" in note.text


def test_a_fine_pattern_is_carried_out_and_said(tmp_path):
    """Stripes of 0.75 mm, every one of its own: too many paints for shapes alone."""
    stripes = "".join(
        f'<path d="M{10 + 0.75 * k} 10h0.75v30h-0.75z" fill="#{(k * 53) % 256:02x}3366"/>'
        for k in range(80)
    )

    made = loaded(tmp_path, svg(stripes + CUT), **LAYER)

    (found,) = made.decals
    assert not found.faults
    assert {note.level for note in made.notes if "bleed" in note.text} == {"know", "look"}
    seen, at = rendered(found)
    ring = in_ring(found, at)
    edge = nearest_edge(found, at[ring])
    stripe = np.clip((edge[:, 0] + 30) / 0.75, 0, 79.99).astype(int)
    away = np.abs(seen[ring][:, 0] - (stripe * 53) % 256)
    assert np.median(away) < 3


def test_a_drawing_gives_the_same_bytes_and_says_what_was_made(tmp_path):
    one = loaded(tmp_path, svg(HALVES + CUT), **LAYER)
    two = loaded(tmp_path, svg(HALVES + CUT), **LAYER)

    assert one.decals[0].picture.pdf == two.decals[0].picture.pdf
    (note,) = [note for note in one.notes if "bleed" in note.text]
    assert note.level == "know"
    assert "along 100 % of the contour (180 mm)" in note.text


# ---- pages -----------------------------------------------------------------------------------


def page(content: bytes, rotate: int = 0, **resources) -> bytes:
    """A PDF of 60 × 30 mm, content in mm."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(60 / 25.4 * 72, 30 / 25.4 * 72))
    pdf.pages[0].Contents = pdf.make_stream(b"2.8346457 0 0 2.8346457 0 0 cm " + content)
    pdf.pages[0].Resources = pikepdf.Dictionary(**resources)
    if rotate:
        pdf.pages[0].obj.Rotate = rotate
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def spots() -> pikepdf.Dictionary:
    """A spot colour that screens show as red."""
    tint = pikepdf.Dictionary(
        FunctionType=2, Domain=[0, 1], C0=[1, 1, 1], C1=[0.8, 0.13, 0.13], N=1
    )
    space = pikepdf.Array(
        [pikepdf.Name.Separation, pikepdf.Name("/Club red"), pikepdf.Name.DeviceRGB, tint]
    )
    return pikepdf.Dictionary(Club=space)


PAGE = {"contour": "page", "bleed_mm": 2.0, "make_bleed": "edge"}
BLUE_HALF = b"0 0.2 0.4 rg 30 0 30 30 re f"
RGB_HALVES = b"0.8 0.1333 0.1333 rg 0 0 30 30 re f " + BLUE_HALF


@pytest.mark.parametrize(
    ("art", "expected"),
    [
        (page(RGB_HALVES), halves),
        (page(b"0 0 60 30 re W n 0.8 0.1333 0.1333 rg -9 -9 39 99 re f " + BLUE_HALF), halves),
        (page(b"/Club cs 1 scn 0 0 60 30 re f", ColorSpace=spots()), plain(RED)),
        (page(b"0 0.2 0.4 rg 0.8 0.1333 0.1333 RG 4 w 2 2 56 26 re B"), plain(RED)),
    ],
    ids=["two fills", "clipped", "spot", "border"],
)
def test_plain_colours_of_a_page_go_on(tmp_path, art, expected):
    found = decal(tmp_path, art, "a.pdf", **PAGE)

    away = off(found, expected)
    assert away.mean() < 2
    assert np.quantile(away, 0.98) < 10
    assert not found.faults


def test_a_turned_page_goes_on_where_it_lies(tmp_path):
    """Turned by 90 degrees clockwise the left half is the upper one."""
    found = decal(tmp_path, page(RGB_HALVES, rotate=90), "a.pdf", **PAGE)

    away = off(found, lambda points: np.where(points[:, 1:] > 0, RED, BLUE))
    assert away.mean() < 2


def written(found: Decal) -> bytes:
    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        return pdf.pages[0].Contents.read_bytes()


def test_inks_of_a_page_stay_what_they_are(tmp_path):
    process = decal(tmp_path, page(b"0.1 0.9 0.8 0 k 0 0 60 30 re f"), "a.pdf", **PAGE)
    art = page(b"/Club cs 1 scn 0 0 60 30 re f", ColorSpace=spots())
    spot = decal(tmp_path, art, "a.pdf", **PAGE)

    assert b"0.1 0.9 0.8 0 k" in written(process)
    assert b" rg" not in written(process)
    assert b"/Edge1 cs 1 sc" in written(spot)
    with pikepdf.open(io.BytesIO(spot.picture.pdf)) as pdf:
        assert pdf.pages[0].Resources.ColorSpace.Edge1[1] == "/Club red"


def picture_page(colour: np.ndarray, space: pikepdf.Name) -> bytes:
    """A page filled by one picture."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(60 / 25.4 * 72, 30 / 25.4 * 72))
    image = pdf.make_stream(
        colour.tobytes(),
        Type=pikepdf.Name.XObject,
        Subtype=pikepdf.Name.Image,
        Width=colour.shape[1],
        Height=colour.shape[0],
        ColorSpace=space,
        BitsPerComponent=8,
    )
    pdf.pages[0].Contents = pdf.make_stream(b"170.0787 0 0 85.0394 0 0 cm /P Do")
    pdf.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=image))
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def test_an_rgb_picture_on_a_page_is_carried_out_as_pixels(tmp_path):
    colour = np.zeros((300, 600, 3), dtype=np.uint8)
    colour[:, :300], colour[:, 300:] = RED, BLUE

    made = loaded(tmp_path, picture_page(colour, pikepdf.Name.DeviceRGB), "a.pdf", **PAGE)

    (found,) = made.decals
    assert off(found, halves).mean() < 3
    assert [note.level for note in made.notes if "bleed" in note.text] == ["look"]


def test_a_picture_in_process_colours_on_a_page_is_left_and_said(tmp_path):
    """Pixels of RGB beside it would change its inks: the missing bleed is told instead."""
    colour = np.full((300, 600, 4), 120, dtype=np.uint8)
    art = picture_page(colour, pikepdf.Name.DeviceCMYK)

    bare = decal(tmp_path, art, "a.pdf", **{**PAGE, "make_bleed": "none"})
    made = loaded(tmp_path, art, "a.pdf", **PAGE)

    (found,) = made.decals
    assert found.picture.pdf == bare.picture.pdf
    assert [fault.kind for fault in found.faults] == ["bleed"]


def test_a_page_with_bleed_of_its_own_is_left_alone(tmp_path):
    pdf = pikepdf.open(io.BytesIO(page(b"0 0.2 0.4 rg 0 0 60 30 re f")))
    pdf.pages[0].trimbox = [12, 12, 158, 73]
    out = io.BytesIO()
    pdf.save(out)
    order = {**PAGE, "contour": "trim"}

    plain_one = decal(tmp_path, out.getvalue(), "a.pdf", **{**order, "make_bleed": "none"})
    found = decal(tmp_path, out.getvalue(), "a.pdf", **order)

    assert found.picture.pdf == plain_one.picture.pdf
