"""Pages made from pictures that were kept: comparison, contact sheet, plan of the set-up, handout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from lightsim.errors import LightsimError
from lightsim.scene.file.write import save_scene
from lightsim.scene.records import Exposure, Scene
from lightsim.scene.settings.change_light import placed_by_angle

KINDS = ("comparison", "contact sheet", "plan", "handout")
ALIKE = (
    "the kept pictures differ in more than the key's angle, allowed pictures that differ in it alone; "
    "a comparison shows all others"
)


def make_page(what: str, scene: Scene, kept: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """Write a page beside the scene; returns its files.

    what : one of KINDS.  kept : scenes of the kept pictures.  name : what the files' names begin with.
    Contact sheet and handout show the set at the angles of the kept pictures.
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
    angles = angles_of(kept)
    if what == "contact sheet":
        from lightsim.runs.sweep.sweep import sweep_to_folder

        return list(sweep_to_folder(kept[0], _free(folder, f"out-{name}", ""), angle=angles)[1])
    return [_handout(kept[0], angles, folder, name)]


def _handout(scene: Scene, angles: str, folder: Path, name: str) -> Path:
    """A handout is made from a scene file, so the set is written for as long as that takes."""
    from lightsim.runs.handout.handout import write_handout

    source = _free(folder, f"{name}-kept", ".toml")
    try:
        save_scene(scene, source)
        return write_handout([source], _free(folder, f"{name}-handout", ".html"), values={"angle": angles})
    finally:
        source.unlink(missing_ok=True)


def angles_of(kept: Sequence[Scene]) -> str:
    """The key's angles, as a sweep takes them. LightsimError where the scenes differ in more."""
    if any(not scene.lights for scene in kept) or len({_but_for_angle(scene) for scene in kept}) > 1:
        raise LightsimError(f"make: {ALIKE}")
    angles = sorted({round(placed_by_angle(scene.lights[0]).angle_deg, 2) for scene in kept})
    if len(angles) < 2:
        raise LightsimError(f"make: found one angle, but {ALIKE}")
    return ",".join(f"{angle:g}" for angle in angles)


def _but_for_angle(scene: Scene) -> Scene:
    key = replace(placed_by_angle(scene.lights[0]), angle_deg=0.0)
    return replace(scene, lights=(key, *scene.lights[1:]), exposure=Exposure(), about="", path=None)


def _free(folder: Path, stem: str, suffix: str) -> Path:
    """A name that is not there yet: nothing is overwritten from the page."""
    for number in range(1, 1000):
        path = folder / f"{stem}{'' if number == 1 else f'-{number}'}{suffix}"
        if not path.exists():
            return path
    raise LightsimError(f"{folder}: found a thousand files called {stem}, allowed fewer")
