"""The outer edge of drawings against pictures of the same files by an independent reader.

resvg parses, styles and paints the original file; we compare areas, extents and the
share of the page on which the two disagree. Each sample is named by its trouble.
"""

from itertools import product

import numpy as np
import pytest
import shapely

from tests.artwork.handmade import loaded, rendered, svg

PER_MM = 10

FOLLOWED = {
    "three_nested_transforms": """
        <g transform="translate(20 10)"><g transform="rotate(30)"><g transform="scale(2 1.5)">
        <path d="M10 10 a6 6 0 1 0 12 0 a6 6 0 1 0-12 0z"/></g></g></g>""",
    "symbol_scaled_by_its_view_box": """
        <symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>
        <use xlink:href="#s" x="40" y="10" width="20" height="20"/>
        <use href="#s" x="10" y="20" width="20" height="30"/>""",
    "symbol_cuts_off_what_leaves_its_frame": """
        <symbol id="s" viewBox="0 0 10 10"><circle cx="9" cy="5" r="4"/></symbol>
        <use href="#s" x="40" y="10" width="20" height="20"/>""",
    "symbol_that_does_not_cut_off": """
        <symbol id="s" viewBox="0 0 10 10" overflow="visible"><circle cx="9" cy="5" r="4"/></symbol>
        <use href="#s" x="40" y="10" width="20" height="20"/>""",
    "use_of_a_use_in_a_group": """
        <defs><rect id="r" width="9" height="5" rx="2"/>
        <g id="pair"><use href="#r"/><use href="#r" x="12" y="3"/></g></defs>
        <use href="#pair" transform="translate(10 10)"/>
        <use href="#pair" x="50" y="30" transform="rotate(-10)"/>""",
    "inner_page_letterboxed": """
        <svg x="10" y="10" width="60" height="20" viewBox="0 0 10 10">
        <rect width="10" height="10"/></svg>""",
    "inner_page_sliced_to_the_upper_end": """
        <svg x="10" y="10" width="60" height="20" viewBox="0 0 10 10"
        preserveAspectRatio="xMidYMin slice"><circle cx="5" cy="5" r="5"/></svg>""",
    "inner_page_stretched": """
        <svg x="10" y="10" width="60" height="20" viewBox="5 5 10 10"
        preserveAspectRatio="none"><circle cx="10" cy="10" r="5"/></svg>""",
    "arc_radii_too_small_to_reach": '<path d="M10 30 A5 2 20 0 1 60 40 Z"/>',
    "arc_flags_glued_to_numbers": '<path d="M30 20a12 9 25 1020 5z"/>',
    "arc_of_all_four_flag_pairs": """
        <path d="M10 20 A9 6 0 0 0 22 20Z"/><path d="M35 20 A9 6 0 0 1 47 20Z"/>
        <path d="M10 45 A9 6 30 1 0 22 45Z"/><path d="M40 45 A9 6 30 1 1 52 45Z"/>""",
    "smooth_curves_after_other_commands": """
        <path d="M10 20 q 5 -15 10 0 t 10 0 t 10 5 v10 s -8 12 -15 4 t -15 -5z"/>""",
    "star_filled_by_winding": '<path d="M30 5 L45 50 L8 22 L52 22 L15 50 Z"/>',
    "star_filled_even_odd": """
        <path fill-rule="evenodd" d="M30 5 L45 50 L8 22 L52 22 L15 50 Z"/>""",
    "rings_that_turn_the_same_way": """
        <path d="M10 10h30v30h-30z M15 15h20v20h-20z"/>
        <path d="M60 10h30v30h-30z M65 15v20h20v-20z"/>""",
    "child_selector_hides_a_shape": """
        <style>g.k > .h {display:none} rect {fill:none}
        .k rect.w, #one {fill:red !important}</style>
        <g class="k"><rect class="h w" x="5" y="5" width="10" height="10"/>
        <rect class="w" x="25" y="5" width="10" height="10" style="fill:none"/>
        <g><rect class="h w" x="45" y="5" width="10" height="10"/></g></g>
        <rect x="5" y="25" width="10" height="10"/>
        <rect id="one" x="25" y="25" width="9" height="9"/>
        """,
    "hidden_shapes": """
        <g visibility="hidden"><rect x="5" y="5" width="10" height="10"/>
        <rect x="25" y="5" width="10" height="10" visibility="visible"/></g>
        <g display="none"><rect x="50" y="5" width="10" height="10" visibility="visible"/></g>
        <rect x="5" y="30" width="10" height="10" fill-opacity="0"/>
        <g opacity="0"><rect x="25" y="30" width="10" height="10"/></g>""",
    "miter_joins_up_to_their_limit": """
        <g fill="none" stroke="red" stroke-width="5">
        <path d="M10 50 L25 10 L40 50"/><path d="M50 50 L56 12 L62 50"/>
        <path d="M70 50 L76 15 L82 50" stroke-miterlimit="20"/></g>""",
    "joins_and_caps_of_all_kinds": """
        <g fill="none" stroke="red" stroke-width="6">
        <path d="M10 40 L20 10 L30 40" stroke-linejoin="round" stroke-linecap="round"/>
        <path d="M45 40 L55 10 L65 40" stroke-linejoin="bevel" stroke-linecap="square"/>
        <path d="M78 14 L92 14 L92 40 L78 40 Z"/></g>""",
    "stroke_stretched_unevenly": """
        <ellipse transform="scale(3 1)" cx="16" cy="30" rx="10" ry="15" fill="none" stroke="red"
        stroke-width="3"/>""",
    "stroke_along_a_tight_curve": """
        <path d="M30 30 c0 -9 12 -9 12 0 s12 9 12 0" fill="none" stroke="red"
        stroke-width="12"/>""",
    "dots_that_only_caps_show": """
        <g stroke="red" stroke-width="12"><path d="M20 20h0" stroke-linecap="round"/>
        <path d="M50 20z" stroke-linecap="square"/><path d="M80 20h0"/>
        <path d="M20 45h9"/></g>""",
    "clipped_by_a_circle": """
        <clipPath id="c"><circle cx="50" cy="30" r="18"/><rect x="10" y="28" width="80" height="4"/>
        </clipPath><g clip-path="url(#c)"><rect x="35" y="10" width="60" height="25"/></g>""",
    "clipped_twice_and_moved": """
        <clipPath id="c" transform="translate(5 0)"><path clip-rule="evenodd"
        d="M20 10h40v40h-40z M30 20h20v20h-20z"/></clipPath><clipPath id="d"><use href="#e" y="2"/>
        </clipPath><defs><circle id="e" cx="40" cy="25" r="22"/></defs>
        <g clip-path="url(#c)" transform="rotate(4)">
        <rect clip-path="url(#d)" width="99" height="59"/>
        </g>""",
    "art_beyond_the_page": '<circle cx="95" cy="30" r="20"/>',
    "switch_between_languages": """
        <switch><rect systemLanguage="xx" width="90" height="50"/>
        <g systemLanguage="en-GB"><rect x="30" y="10" width="20" height="20"/></g>
        <rect width="90" height="50"/></switch>""",
    "percentages": """
        <rect x="10%" y="10%" width="50%" height="50%"/>
        <circle cx="80%" cy="50%" r="10%"/>""",
    "gradient_and_pattern_fills": """
        <linearGradient id="g"><stop offset="0"/><stop offset="1" stop-color="red"/>
        </linearGradient>
        <rect x="10" y="10" width="30" height="30" fill="url(#g)"/>""",
    "abutting_shapes_with_rounding_gaps": """
        <rect x="10" y="10" width="20.0004" height="30"/><rect x="30.0011" y="10" width="20"
        height="30"/>""",
    "rounded_corners_limited_by_the_side": """
        <rect x="10" y="10" width="30" height="10" rx="40" ry="3"/>
        <rect x="50" y="10" width="30" height="20" ry="4"/>
        <rect x="10" y="40" width="30" height="10" rx="99"/>""",
}

SEEN_ONLY_IN_A_RENDERING = {
    "mask": """
        <mask id="m"><circle cx="50" cy="30" r="20" fill="white"/></mask>
        <rect x="35" y="5" width="60" height="50" mask="url(#m)"/>""",
    "clip_in_units_of_the_box": """
        <clipPath id="c" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".5"/>
        </clipPath>
        <rect x="20" y="10" width="60" height="40" clip-path="url(#c)"/>""",
    "dashes": """
        <path d="M10 30h80" stroke="red" stroke-width="10" stroke-dasharray="12 8" fill="none"/>""",
    "markers": """
        <marker id="m" markerWidth="4" markerHeight="4" refX="2" refY="2">
        <circle cx="2" cy="2" r="2"/>
        </marker><path d="M20 30h60" stroke="red" stroke-width="4" marker-end="url(#m)"/>""",
    "effect": """
        <filter id="f"><feOffset dx="10" dy="5"/></filter>
        <rect x="20" y="10" width="40" height="30" filter="url(#f)"/>""",
    "gradient_that_fades_out": """
        <linearGradient id="g"><stop offset="0"/><stop offset="1" stop-opacity="0"/>
        </linearGradient>
        <rect x="10" y="10" width="80" height="30" fill="url(#g)"/>""",
}


def disagreement(contour, picture) -> np.ndarray:
    """How much of each pixel only one of the two covers, from the contour and a rendering."""
    height, width = picture.shape
    column, row = np.meshgrid(np.arange(width), np.arange(height))
    left, top, side = column / PER_MM, -row / PER_MM, 1 / PER_MM
    shapely.prepare(contour)
    ours = shapely.contains_xy(contour, left + side / 2, top - side / 2).astype(float)
    edge = np.zeros_like(ours, dtype=bool)
    for down, across in product((-1, 0, 1), repeat=2):
        edge |= np.roll(ours, (down, across), (0, 1)) != ours
    tiles = shapely.box(left[edge], top[edge] - side, left[edge] + side, top[edge])
    ours[edge] = shapely.area(shapely.intersection(contour, tiles)) * PER_MM**2
    return np.abs(ours - picture)


def page_contour(art):
    """The contour back where it stands on the page: the picture's box says where that is."""
    (decal,) = art.decals
    left, _, _, top = decal.picture.box_mm
    return decal.contour.moved(-left, -top).region


@pytest.mark.parametrize("name", FOLLOWED)
def test_the_outer_edge_is_what_another_reader_paints(tmp_path, name):
    """Anti-aliased pixels tell covered area to 1/255 or so; the edge is within 0.02 mm, a fifth
    of a pixel, so no pixel may be off by much more than that."""
    text = svg(FOLLOWED[name])

    art = loaded(tmp_path, text, contour="outline")

    picture = rendered(FOLLOWED[name], 100 * PER_MM, 60 * PER_MM)
    off = disagreement(page_contour(art), picture)
    assert off.max() < 0.45
    assert off.sum() / PER_MM**2 < 0.01 * picture.sum() / PER_MM**2
    assert not [note for note in art.notes if "rendering" in note.text]


@pytest.mark.parametrize("name", SEEN_ONLY_IN_A_RENDERING)
def test_what_geometry_cannot_follow_is_rendered_and_said(tmp_path, name):
    text = svg(SEEN_ONLY_IN_A_RENDERING[name])

    art = loaded(tmp_path, text, contour="outline")

    picture = rendered(SEEN_ONLY_IN_A_RENDERING[name], 100 * PER_MM, 60 * PER_MM) > 0.5
    found = page_contour(art)
    off = disagreement(found, picture)
    assert off.sum() / PER_MM**2 < 0.02 * found.length * 5
    assert any("rendering" in note.text and note.level == "look" for note in art.notes)
