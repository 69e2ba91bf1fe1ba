"""Bleed that the art lacks, made from its edge: pixels by pixels, shapes by grown shapes."""
