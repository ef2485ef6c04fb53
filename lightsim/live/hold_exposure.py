"""One setting changes and another holds the exposure, as `lightsim exposure --solve` does."""

from __future__ import annotations

from lightsim.errors import LightsimError
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, MOVES, ROOM, change_stops
from lightsim.planning.equivalents import equivalent_setting
from lightsim.planning.levels import settings_of
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import flash_traded
from lightsim.scene.settings.change_scene import change_scene

HOLDS = ("power", "shutter", "iso", "f-number", "distance")


def exposure_held(before: Scene, after: Scene, name: str) -> Scene:
    """The changed scene with the setting of that name moved so that the exposure stays.

    The flash's part is held where there is a flash and the setting moves it, else the room's.
    LightsimError where usual gear cannot be set so.
    """
    if name not in HOLDS:
        raise LightsimError(f"hold: found {name[:40]!r}, allowed {', '.join(HOLDS)}")
    flash_before, flash = flash_traded(before, None), flash_traded(after, None)
    part = FLASH if flash is not None and FLASH in MOVES[name] else ROOM
    if part not in MOVES[name]:
        raise LightsimError(f"hold: found {name}, allowed where a flash is on the set")
    settings = settings_of(after, flash)
    stops = -change_stops(settings_of(before, flash_before), settings, part)
    if abs(stops) < 1e-9:
        return after
    mark = None if after.lens is None else after.lens.widest_f_number
    found = equivalent_setting(settings, name, part, stops, None if mark is None else F_NUMBERS.exact(mark))
    if not found.within_reach or found.value is None:
        raise LightsimError(f"{name} cannot hold the exposure here: {found.note or found.label}")
    return change_scene(after, {name.replace("-", "_"): found.value}, None if flash is None else flash.name)
