"""Artwork files come in; decals with a contour and a vector picture go out."""

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.decal import Artwork, Decal, Picture, Remnant, Row, RowTable
from nestplan.artwork.load import load_artwork

__all__ = [
    "ArtFault",
    "Artwork",
    "Decal",
    "Picture",
    "Remnant",
    "Row",
    "RowTable",
    "load_artwork",
]
