"""The flower's sky: the key traced at one place after another round the lens axis, coarse to fine."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from lightsim.errors import LightsimError
from lightsim.live.live_picture import LivePicture
from lightsim.runs.photographing import measures_of, photograph
from lightsim.scene.faces import RING
from lightsim.scene.obstruction import not_buildable
from lightsim.scene.records import Exposure, Scene
from lightsim.scene.settings.change_light import placed_by_angle
from lightsim.scene.settings.quantities import change_scene
from lightsim.scene.stage import Stage

MOST_BYTES = 400_000_000  # of layers that are kept
ANGLE_STEPS = (30, 15, 10, 5)
TINTS = ("petal_contrast_stops", "texture_fine_stops", "petal_stops_from_mid_tone")
CLOCK_STEPS = (3.0, 1.0, 0.5, 0.25)

Place = tuple[float, float]  # angle off the lens axis in degrees, clock position


def sky_places() -> Iterator[Place]:
    """All places, the coarsest first: 30 degrees and three hours apart, at last 5 degrees and a quarter."""
    seen = set()
    for angle_step, clock_step in zip(ANGLE_STEPS, CLOCK_STEPS, strict=True):
        for angle in range(0, 181, angle_step):
            for number in range(round(12 / clock_step)):
                clock = 12.0 if angle in (0, 180) or number == 0 else number * clock_step
                if (float(angle), clock) not in seen:
                    seen.add((float(angle), clock))
                    yield float(angle), clock


@dataclass(frozen=True)
class SkyPlace:
    """What is known of one place. picture : None where nothing can be drawn.  reason : why the light cannot
    stand there, "" where it can."""

    picture: LivePicture | None
    measures: dict[str, float | None]
    reason: str = ""


class Sky:
    """Places of the key that are known, for one set with one key; another key or set clears them."""

    def __init__(self) -> None:
        self._of: Scene | None = None
        self._known: dict[Place, SkyPlace] = {}
        self._rest: Iterator[Place] = iter(())
        self._ahead: Place | None = None
        self._bytes = 0
        self._paused = False

    def clear(self) -> None:
        """Forget everything."""
        self._of, self._known, self._bytes = None, {}, 0

    def known(self, scene: Scene) -> dict[Place, SkyPlace]:
        """What is known of this scene's sky."""
        return self._known if self._of is not None and self._of == _without_place(scene) else {}

    def has_more(self, scene: Scene) -> bool:
        """Whether there is a place to trace, and room to keep it."""
        if not scene.lights or scene.lights[0].shape == RING:  # which is held at the lens's front
            return False
        self._turn_to(scene)
        return not self._paused and self._bytes < MOST_BYTES and self._peek() is not None

    def pause(self, scene: Scene) -> None:
        """Nothing can be traced for this scene now."""
        self._turn_to(scene)
        self._paused = True

    def next_place(self, scene: Scene) -> Place | None:
        """The coarsest place that is not known."""
        self._turn_to(scene)
        return self._peek()

    def scene_at(self, scene: Scene, place: Place) -> Scene:
        """The scene with its key there."""
        return change_scene(scene, {"angle": place[0], "clock": place[1]}, scene.lights[0].name)

    def cannot_stand(self, scene: Scene, place: Place, reason: str) -> None:
        """The key cannot stand there."""
        self._turn_to(scene)
        self._known[place] = SkyPlace(None, {}, reason)

    def note(self, scene: Scene, picture: LivePicture) -> None:
        """Keep a picture in full quality, if its key stands on one of the places."""
        self._turn_to(scene)
        self._paused = False
        place = place_of(scene)
        if place is None or (place in self._known and self._known[place].picture is not None):
            return
        reason = "; ".join(not_buildable(picture.stage))
        self._known[place] = SkyPlace(replace(picture, traced=None), _measures(picture), reason)
        self._bytes += sum(len(layer.bytes.data) for layer in picture.layers[:1])

    def picture(self, scene: Scene, stage: Stage, revision: int) -> LivePicture | None:
        """The kept picture of the place where the key stands, None where there is none."""
        place = place_of(scene)
        found = None if place is None else self.known(scene).get(place)
        if found is None or found.picture is None:
            return None
        return replace(found.picture, revision=revision, scene=scene, stage=stage)

    def _turn_to(self, scene: Scene) -> None:
        of = _without_place(scene)
        if self._of == of:
            return
        self.clear()
        self._of, self._rest, self._ahead, self._paused = of, sky_places(), None, False

    def _peek(self) -> Place | None:
        while self._ahead is None or self._ahead in self._known:
            self._ahead = next(self._rest, None)
            if self._ahead is None:
                return None
        return self._ahead


def _without_place(scene: Scene) -> Scene:
    """All that the pictures of the sky depend on but the key's place round the lens axis; not the exposure,
    which the page works out, nor any light's power, its layer being for one unit of its output."""
    lights = tuple(replace(light, power=1.0) for light in scene.lights)
    if lights:
        lights = (replace(placed_by_angle(lights[0]), angle_deg=0.0, clock=12.0), *lights[1:])
    exposure = Exposure() if scene.motion is None else replace(Exposure(), shutter_s=scene.exposure.shutter_s)
    return replace(scene, lights=lights, exposure=exposure, title="", about="", path=None)


def place_of(scene: Scene) -> Place | None:
    """The place of the key among the places of the sky; None between them."""
    if not scene.lights:
        return None
    key = placed_by_angle(scene.lights[0])
    angle, quarters = round(key.angle_deg / 5.0) * 5.0, round(key.clock * 4.0)
    if abs(key.angle_deg - angle) > 1e-6 or abs(key.clock * 4.0 - quarters) > 1e-6:
        return None
    return angle, 12.0 if angle in (0.0, 180.0) or quarters % 48 == 0 else quarters / 4.0


def _measures(picture: LivePicture) -> dict[str, float | None]:
    """The numbers that tint the dial."""
    if picture.traced is None:
        return {}
    try:
        photo = photograph(picture.traced, picture.scene, picture.stage)
        found = measures_of(photo, picture.traced, picture.scene, picture.stage)
    except LightsimError:
        return {}
    kept: dict[str, Any] = {name: getattr(found, name) for name in TINTS}
    return {name: value for name, value in kept.items() if value is not None}
