"""The commands: each reads its options, calls one function and prints what came of it.

To add one, decorate a function with `main.command()` in a module of this room and name the module here.
"""

from lightsim.cli import handout, layers, lesson, live_page, pictures, plan, scene_file, shot, words
from lightsim.cli.group import main

__all__ = [
    "handout", "layers", "lesson", "live_page", "main", "pictures", "plan", "scene_file", "shot", "words",
]  # fmt: skip
