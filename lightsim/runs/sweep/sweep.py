"""Sweeping a light or a setting: one call from a scene and values to frames."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import Any

from lightsim.report.page_options import PageOptions
from lightsim.runs.limits import require_memory
from lightsim.runs.progress import Meter, Report
from lightsim.runs.quality import samples_of
from lightsim.runs.sweep.execution import SweepStopped, Work, whole_weight
from lightsim.runs.sweep.result import Sweep
from lightsim.runs.sweep.save import folder_for
from lightsim.runs.sweep.schedule import SweepPlan, plan_sweep
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.quantities import QUANTITIES
from lightsim.scene.settings.value_list import Values

# Share of the whole that the frames take; sheet, chart and animation take the rest.
SWEEP_SHARE = 0.8


def sweep(
    scene: Scene | str | Path,
    *,
    angles: Values | None = None,
    clock: Values | None = None,
    distance: Values | None = None,
    size: Values | None = None,
    f_number: Values | None = None,
    extension: Values | None = None,
    power: Values | None = None,
    iso: Values | None = None,
    shutter: Values | None = None,
    light: str | None = None,
    quality: str = "normal",
    width_px: int | None = None,
    own_exposure: bool = False,
    auto: bool = False,
    folder: str | Path | None = None,
    force: bool = False,
    photographs: bool = False,
    progress: Report | None = None,
) -> Sweep:
    """Photograph a scene along a list of values: a light moved, a setting changed, or both as a grid.

    Parameters
    ----------
    scene : a scene or its file.
    angles, clock, distance, size : numbers, or text such as "0:180:15" or "10,45,80"; degrees off the lens
        axis, clock positions, mm, and mm of the glowing face's width. One of all these quantities may have
        several values, or two, which makes a grid; a single value sets it for all frames.
    f_number, extension, power, iso, shutter : the same for the camera's settings and the light's power;
        extension is the tubes' whole length in mm. Ranges of marked settings step in stops.
    light : the light that moves; the key when None.
    quality : "draft", "normal" or "final".
    own_exposure : each frame at its own automatic exposure.
    auto : one automatic exposure for all. Without either the frames are exposed as the scene says, and where
        settings of the exposure vary, as these say.
    folder : where frames are kept and taken from when they still hold; None keeps them in memory only.
    force : make all frames anew.
    photographs : keep each frame's linear picture too.
    progress : called with the share done (0..1) and what is being done.

    Raises
    ------
    SceneError, PictureError, OutputError, LightsimError before anything is traced; SweepStopped on an
    interruption.
    """
    values = {
        "angles": angles, "clock": clock, "distance": distance, "size": size, "f_number": f_number,
        "extension": extension, "power": power, "iso": iso, "shutter": shutter,
    }  # fmt: skip
    plan, choices = _planned(
        scene,
        **values,
        light=light,
        quality=quality,
        width_px=width_px,
        own_exposure=own_exposure,
        auto=auto,
        force=force,
        photographs=photographs,
    )
    return run_sweep(plan, None if folder is None else Path(folder), report=progress, **choices)


def _planned(
    scene: Scene | str | Path,
    *,
    quality: str = "normal",
    force: bool = False,
    photographs: bool = False,
    **options: Any,
) -> tuple[SweepPlan, dict[str, Any]]:
    """The plan of a sweep, and the options of its run."""
    scene = scene if isinstance(scene, Scene) else load_scene(scene)
    wanted = {name: options.pop("angles" if name == "angle" else name, None) for name in QUANTITIES}
    plan = plan_sweep(scene, wanted, samples=samples_of(quality), **options)
    return plan, {"force": force, "photographs": photographs}


def sweep_to_folder(
    scene: Scene | str | Path,
    folder: str | Path | None = None,
    *,
    progress: Report | None = None,
    page: PageOptions | None = None,
    **options: Any,
) -> tuple[Sweep, list[Path]]:
    """`sweep`, with all its files written; returns the sweep and the files.

    folder : None makes one beside, named after the scene.  page : how its pages look.
    Other options as for `sweep`.
    """
    plan, choices = _planned(scene, **options)
    place = default_folder(plan) if folder is None else Path(folder)
    split = SWEEP_SHARE
    first = None if progress is None else (lambda share, words: progress(split * share, words))
    then = None if progress is None else (lambda share, words: progress(split + (1 - split) * share, words))
    require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    with folder_for(plan, place):
        done = run_sweep(plan, place, report=first, **choices)
        try:
            return done, done.save(place, then, page)
        except KeyboardInterrupt:
            raise SweepStopped(len(done), len(done), place) from None


def default_folder(plan: SweepPlan) -> Path:
    """out-SCENE; out-SCENE-clock, out-SCENE-angle-by-f-number and so on when not the angle alone varies."""
    stem = plan.scene.path.stem if plan.scene.path is not None else "scene"
    along = "-by-".join(plan.names).replace("_", "-")
    return Path(f"out-{stem}" if along == "angle" else f"out-{stem}-{along}")


def run_sweep(
    plan: SweepPlan,
    folder: Path | None = None,
    *,
    force: bool = False,
    photographs: bool = False,
    report: Report | None = None,
) -> Sweep:
    """Make the frames of a plan that are not kept already; parameters as for `sweep`."""
    require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    with nullcontext() if folder is None else folder_for(plan, folder):
        return _run(plan, folder, force, photographs, report)


def _run(
    plan: SweepPlan, folder: Path | None, force: bool, photographs: bool, report: Report | None
) -> Sweep:
    trials = plan.scene.exposure.auto and not plan.own_exposure
    meter = Meter(report, whole_weight(plan, trials))
    work = Work(plan, folder, force, photographs, meter)
    with work.stopping():
        gain = work.common_gain_stops() if trials else 0.0
        work.make_all(gain)
    return Sweep(plan, work.frames, gain, len(work.found))
