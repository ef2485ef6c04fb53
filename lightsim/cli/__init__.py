"""The commands: each reads its options, calls one function and prints what came of it.

To add one, decorate a function with `main.command()` in a module of this room and name the module here.
"""

from lightsim.cli import layers, live_page, pictures, plan, scene_file, shot, teaching, term_list
from lightsim.cli.group import main

__all__ = [
    "layers", "live_page", "main", "pictures", "plan", "scene_file", "shot", "teaching", "term_list",
]  # fmt: skip
