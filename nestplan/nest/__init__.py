"""Decals and a strip of film come in; a verified nest in frames, with its bound, goes out."""

from nestplan.nest.engine import Budget, Engine, Progress, Watch, never, unwatched
from nestplan.nest.missing import Missing
from nestplan.nest.nested import Carried, Nest, Strip, Tried
from nestplan.nest.placements import Layout, Placements, alike, placed
from nestplan.nest.task import Obstacle, Shape, Task

__all__ = [
    "Budget",
    "Carried",
    "Engine",
    "Layout",
    "Missing",
    "Nest",
    "Obstacle",
    "Placements",
    "Progress",
    "Shape",
    "Strip",
    "Task",
    "Tried",
    "Watch",
    "alike",
    "never",
    "placed",
    "unwatched",
]
