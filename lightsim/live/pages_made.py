"""Pages made from pictures that were kept: comparison, contact sheet, plan of the set-up."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from lightsim.errors import LightsimError
from lightsim.scene.records import Scene

KINDS = ("comparison", "contact sheet", "plan")


def make_page(what: str, scene: Scene, kept: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """Write a page beside the scene; returns its files.

    what : one of KINDS.  kept : scenes of the kept pictures.  name : what the files' names begin with.
    LightsimError for another kind, or too few pictures.
    """
    if what not in KINDS:
        raise LightsimError(f"make: found {what[:40]!r}, allowed {', '.join(KINDS)}")
    if what == "plan":
        from lightsim.runs.setup_plan import plan_to_files

        return list(plan_to_files(scene, [_free(folder, f"{name}-plan", ".pdf")])[1])
    if len(kept) < 2:
        raise LightsimError("make: found fewer than two kept pictures, allowed two or more")
    if what == "comparison":
        from lightsim.runs.comparison.compare import compare_to_files

        return list(compare_to_files(tuple(kept), _free(folder, f"{name}-compare", ".png"))[1])
    raise LightsimError("make: the contact sheet follows the angles; use lightsim sweep")


def _free(folder: Path, stem: str, suffix: str) -> Path:
    """A file name that is not there yet: nothing is overwritten from the page."""
    for number in range(1, 1000):
        path = folder / f"{stem}{'' if number == 1 else f'-{number}'}{suffix}"
        if not path.exists():
            return path
    raise LightsimError(f"{folder}: found a thousand files called {stem}, allowed fewer")
