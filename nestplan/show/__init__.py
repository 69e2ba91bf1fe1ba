"""A plan, and how it was found, come in; pictures for the eye and for the docs go out."""
