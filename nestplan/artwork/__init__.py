"""Artwork files come in; decals with a contour and a vector picture go out."""

from nestplan.artwork.decal import Artwork, Decal, Picture

__all__ = ["Artwork", "Decal", "Picture"]
