"""What a sweep is going to do, worked out and checked before anything is traced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from lightsim.errors import LightsimError, SceneError
from lightsim.scene.build import build
from lightsim.scene.check import check_scene
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Stage
from lightsim.shoot.digest import code_version, digest
from lightsim.shoot.vary import (
    QUANTITIES,
    Quantity,
    change_scene,
    light_named,
    parse_values,
    placed_by_angle,
    tidy_values,
)

Values = str | float | Iterable[float]
DEFAULT_ANGLES = "0:180:15"


@dataclass(frozen=True)
class SweepPlan:
    """A sweep, ready to run.

    scene : with every single value already set.  light_name : of the light that moves.
    quantity, values : what varies.  samples : per pixel.  width_px : None takes the scene's.
    own_exposure : each frame at its own automatic exposure.
    """

    scene: Scene
    light_name: str
    quantity: Quantity
    values: tuple[float, ...]
    samples: int
    width_px: int | None = None
    own_exposure: bool = False

    def scene_at(self, value: float) -> Scene:
        """The scene of one frame."""
        return change_scene(self.scene, self.light_name, {self.quantity.name: value})

    def light_at(self, value: float) -> Light:
        """The moving light of one frame, placed by angle, clock position and distance."""
        return placed_by_angle(light_named(self.scene_at(value), self.light_name))

    def stem(self, value: float) -> str:
        """Name of a frame's file without its suffix."""
        return self.quantity.file_stem(value)

    def family(self, gain_stops: float) -> str:
        """Digest of all that the frames share."""
        lights = change_scene(self.scene, self.light_name, {self.quantity.name: 1.0}).lights
        shared = _without_moved(build(self.scene), self.light_name)
        return digest(
            shared, lights, self.scene.exposure, self.samples, self._width(), self.own_exposure, gain_stops,
            self.quantity.name, code_version(),
        )  # fmt: skip

    def frame_digest(self, value: float, family: str) -> str:
        """Digest of all that one frame depends on."""
        return digest(family, build(self.scene_at(value)).lights)

    def _width(self) -> int:
        return self.scene.camera.width_px if self.width_px is None else self.width_px


def _without_moved(stage: Stage, name: str) -> Stage:
    return replace(stage, lights=tuple(light for light in stage.lights if light.name != name))


def plan_sweep(
    scene: Scene,
    wanted: Mapping[str, Values | None],
    *,
    light: str | None = None,
    samples: int,
    width_px: int | None = None,
    own_exposure: bool = False,
) -> SweepPlan:
    """Work out a sweep; `wanted` holds values by the quantity's name ("angle", "clock", "distance", "size").

    Several values of one quantity are the sweep; a single value of another sets it for all frames. Where
    none has several the angle varies: its single value, or 0 to 180 in steps of 15.
    Raises LightsimError when several quantities have lists, SceneError when a frame cannot be built.
    """
    name = light_named(scene, light).name
    lists = {key: values_of(value, QUANTITIES[key]) for key, value in wanted.items() if value is not None}
    varied = _varied(lists)
    values = lists.pop(varied, None) or parse_values(DEFAULT_ANGLES, QUANTITIES[varied])
    fixed = {key: value[0] for key, value in lists.items()}
    plan = SweepPlan(
        change_scene(scene, name, fixed), name, QUANTITIES[varied], values, samples, width_px, own_exposure
    )
    for value in values:
        _check_frame(plan, value)
    return plan


def _check_frame(plan: SweepPlan, value: float) -> None:
    """SceneError, which names the frame, when its scene cannot be built."""
    try:
        build(check_scene(plan.scene_at(value)))
    except SceneError as error:
        words = f"{plan.quantity.label} {value:g}"
        raise SceneError([f"at {words}: {problem}" for problem in error.problems], error.path) from None


def _varied(lists: Mapping[str, tuple[float, ...]]) -> str:
    """Which quantity is the sweep's."""
    several = [key for key, values in lists.items() if len(values) > 1]
    if len(several) > 1:
        options = " and ".join(QUANTITIES[key].option for key in several)
        raise LightsimError(f"{options}: found several values in each, allowed in one of them")
    return several[0] if several else "angle"


def values_of(value: Values, quantity: Quantity) -> tuple[float, ...]:
    """Checked values from text, a number or numbers."""
    if isinstance(value, str):
        return parse_values(value, quantity)
    return tidy_values([value] if isinstance(value, int | float) else value, quantity)
