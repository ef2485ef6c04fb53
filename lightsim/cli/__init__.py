"""The commands: each reads its options, calls one function and prints what came of it.

To add one, decorate a function with `main.command()` in a module of this room and name the module here.
"""

from lightsim.cli import lists, measuring, pictures, scene_file, shot, teaching
from lightsim.cli.common import main

__all__ = ["lists", "main", "measuring", "pictures", "scene_file", "shot", "teaching"]
