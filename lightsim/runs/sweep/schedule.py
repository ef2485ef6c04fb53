"""What a sweep is going to do, worked out and checked before anything is traced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import prod

from lightsim.errors import LightsimError, SceneError
from lightsim.runs.digest import code_version, digest
from lightsim.runs.sweep.held import Held, hold_exposure, require_holdable
from lightsim.scene.build import build
from lightsim.scene.file.check import check_scene
from lightsim.scene.obstruction import not_buildable
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import light_named, placed_by_angle
from lightsim.scene.settings.quantities import OF_THE_LIGHT, QUANTITIES, change_scene, read_lists
from lightsim.scene.settings.quantity import Quantity
from lightsim.scene.settings.value_list import MOST_VALUES, Values, parse_values
from lightsim.scene.stage import Stage

Step = tuple[float, ...]
DEFAULT_ANGLES = "0:180:15"
EXPOSURES = ("set", "auto", "own", "hold")


@dataclass(frozen=True)
class Axis:
    """One quantity that a sweep varies, and its values."""

    quantity: Quantity
    values: tuple[float, ...]


@dataclass(frozen=True)
class SweepPlan:
    """A sweep, ready to run.

    scene : with every single value already set.
    light_name : of the light that is moved and measured; None for a scene without lights.
    axes : what varies: one quantity, or two of them as a grid, the columns' first.
    samples : per pixel.  width_px : None takes the scene's.
    exposure : "set", "auto", "own" or "hold", see `sweep`.
    left_out : angles of the usual ones at which the set cannot be built.
    """

    scene: Scene
    light_name: str | None
    axes: tuple[Axis, ...]
    samples: int
    width_px: int | None = None
    exposure: str = "set"
    left_out: tuple[float, ...] = ()

    @property
    def own_exposure(self) -> bool:
        """Whether each frame is at its own automatic exposure."""
        return self.exposure == "own"

    @property
    def measures_key(self) -> bool:
        """Whether the light that is measured is the scene's key."""
        return self.light_name is None or self.light_name == self.scene.lights[0].name

    @property
    def is_grid(self) -> bool:
        """Whether two quantities vary."""
        return len(self.axes) == 2

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the quantities that vary."""
        return tuple(axis.quantity.name for axis in self.axes)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The values of each frame, in the order of the sheet: a grid row by row."""
        columns, *rows = self.axes
        if not rows:
            return tuple((value,) for value in columns.values)
        return tuple((column, row) for row in rows[0].values for column in columns.values)

    def traced_in_order(self) -> list[Step]:
        """The steps so that as little as can be is traced again from one to the next."""
        weights = {"view": 0, "light": 1, "": 2}
        order = sorted(range(len(self.axes)), key=lambda i: weights[self.axes[i].quantity.traces])
        return sorted(self.steps, key=lambda step: [self.axes[i].values.index(step[i]) for i in order])

    @property
    def views(self) -> int:
        """How many times the camera's paths have to be found."""
        return prod(len(axis.values) for axis in self.axes if axis.quantity.traces == "view")

    def scene_at(self, step: Step) -> Scene:
        """The scene of one frame."""
        return self.held_at(step).scene if self.exposure == "hold" else self._changed(step)

    def held_at(self, step: Step) -> Held:
        """One frame's scene with its exposure held, and by what."""
        return hold_exposure(self.scene, self._changed(step), self.names)

    def held_words(self, step: Step) -> tuple[str, ...]:
        """What holds one frame's exposure, in words; nothing where it is not held."""
        return self.held_at(step).words if self.exposure == "hold" else ()

    def _changed(self, step: Step) -> Scene:
        return change_scene(self.scene, dict(zip(self.names, step, strict=True)), self.light_name)

    def light_at(self, step: Step) -> Light | None:
        """The light of one frame, placed by angle, clock position and distance."""
        if self.light_name is None:
            return None
        return placed_by_angle(light_named(self.scene_at(step), self.light_name))

    def words(self, step: Step) -> str:
        """One frame in words, such as "angle 75, f-number f/11"."""
        return ", ".join(axis.quantity.words(value) for axis, value in zip(self.axes, step, strict=True))

    def stem(self, step: Step) -> str:
        """Name of a frame's file without its suffix."""
        return "_".join(axis.quantity.file_stem(value) for axis, value in zip(self.axes, step, strict=True))

    @property
    def stem_words(self) -> tuple[str, ...]:
        """The words that the names of the frames' files are made of."""
        return tuple(axis.quantity.stem for axis in self.axes)

    def family(self, gain_stops: float) -> str:
        """Digest of all that the frames share: the records without what varies, petal and drops as built."""
        neutral = replace(
            change_scene(self.scene, dict.fromkeys(self.names, 1.0), self.light_name), about="", path=None
        )
        stage = build(self.scene_at(self.steps[0]))
        return digest(
            neutral, stage.petal, stage.drops, self.light_name, self.samples, self._width(),
            self.exposure, gain_stops, self.names, code_version(),
        )  # fmt: skip

    def frame_digest(self, step: Step, family: str) -> str:
        """Digest of all that one frame depends on."""
        scene = self.scene_at(step)
        stage = build(scene)
        return digest(family, stage.lights, stage.camera, scene.camera.f_number, scene.exposure)

    def _width(self) -> int:
        return self.scene.camera.width_px if self.width_px is None else self.width_px


def plan_sweep(
    scene: Scene,
    wanted: Mapping[str, Values | None],
    *,
    light: str | None = None,
    samples: int,
    width_px: int | None = None,
    exposure: str = "set",
) -> SweepPlan:
    """Work out a sweep; `wanted` holds values by the quantity's name (see `quantity.QUANTITIES`).

    Several values of one quantity are the sweep, of two a grid with the longer list along its rows; a single
    value of another sets it for all frames. Where none has several the angle varies: its single value, or 0
    to 180 in steps of 15, without those that cannot be built.  exposure : see `sweep`.
    Raises LightsimError when more than two quantities have lists, SceneError when a frame cannot be built.
    """
    if exposure not in EXPOSURES:
        raise LightsimError(f"exposure: found {exposure!r}, allowed {', '.join(EXPOSURES)}")
    lists = read_lists(wanted)
    axes = _axes(lists)
    left_out: tuple[float, ...] = ()
    fixed = {key: values[0] for key, values in lists.items() if key not in {a.quantity.name for a in axes}}
    name = light_named(scene, light).name if _needs_light(scene, axes, fixed, light) else None
    scene = change_scene(scene, fixed, name)
    exposing = any(axis.quantity.exposes for axis in axes)
    if exposing or exposure in ("auto", "hold"):
        scene = replace(scene, exposure=replace(scene.exposure, auto=exposure == "auto"))
    if "angle" not in lists and axes[0].quantity.name == "angle":
        axes, left_out = _that_can_be_had(scene, name, axes[0])
    plan = SweepPlan(scene, name, axes, samples, width_px, exposure, left_out)
    if exposure == "hold":
        require_holdable(plan.names)
    for step in plan.steps:
        _check_frame(plan, step)
    return plan


def _needs_light(scene: Scene, axes: Iterable[Axis], fixed: Iterable[str], light: str | None) -> bool:
    """Whether there must be a light; a scene without one can still be swept along the camera's settings."""
    asked = {axis.quantity.name for axis in axes} | set(fixed)
    return bool(scene.lights) or light is not None or bool(asked & OF_THE_LIGHT)


def _check_frame(plan: SweepPlan, step: Step) -> None:
    """SceneError, which names the frame, when its scene cannot be built."""
    try:
        build(check_scene(plan.scene_at(step)))
    except SceneError as error:
        words = plan.words(step)
        raise SceneError([f"at {words}: {problem}" for problem in error.problems], error.path) from None


def _that_can_be_had(scene: Scene, name: str | None, axis: Axis) -> tuple[tuple[Axis], tuple[float, ...]]:
    """The angles at which the light's set can be built, and those at which it cannot; all of them where it
    nowhere can."""
    stages = {value: _stage_at(scene, name, value) for value in axis.values}
    bad = tuple(value for value, stage in stages.items() if stage is None or not_buildable(stage))
    good = tuple(value for value in axis.values if value not in bad)
    return ((Axis(axis.quantity, good),), bad) if len(good) > 1 else ((axis,), ())


def _stage_at(scene: Scene, name: str | None, angle_deg: float) -> Stage | None:
    try:
        return build(change_scene(scene, {"angle": angle_deg}, name))
    except SceneError:
        return None


def _axes(lists: Mapping[str, tuple[float, ...]]) -> tuple[Axis, ...]:
    """What varies, the longer list first."""
    several = [Axis(QUANTITIES[key], values) for key, values in lists.items() if len(values) > 1]
    if not several:
        angle = QUANTITIES["angle"]
        return (Axis(angle, lists.get("angle") or parse_values(DEFAULT_ANGLES, angle)),)
    options = " and ".join(axis.quantity.option for axis in several)
    if len(several) > 2:
        raise LightsimError(f"{options}: found several values in each, allowed in two of them")
    pictures = prod(len(axis.values) for axis in several)
    if pictures > MOST_VALUES:
        raise LightsimError(f"{options}: found {pictures} pictures, allowed up to {MOST_VALUES}")
    return tuple(sorted(several, key=lambda axis: -len(axis.values)))
