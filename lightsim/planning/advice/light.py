"""Advice on light: the petal's level, lighting ratio, highlights, ghosts, a flash that stands near."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, isfinite, log2

import numpy as np

from lightsim.optics.exposure_values import (
    ILLUMINANCE_CONSTANT,
    SATURATION,
    image_exposure_lxs,
    linear_per_lxs,
)
from lightsim.optics.fresnel import highlight_luminance_share
from lightsim.optics.marks import SHUTTER_TIMES
from lightsim.optics.trade import FLASH
from lightsim.planning.levels import below_words, face_size, incident_stops, stops_above
from lightsim.planning.planned import Advice, Planned
from lightsim.report.words import face_words, fixed, percent, plain, power_words, signed, significant
from lightsim.scene.faces import angle_and_clock
from lightsim.scene.stage import StagedLight

LEVEL_STOPS = 1.0  # from the mid-tone, from which the level is worth a word; our rule, no source
GHOST_STOPS = 5.0  # room light less than this below the flash shows; our rule, no source
GHOST_PX = 2.0  # and only where it smears over more sensor pixels than this; our rule, no source
STILL_MM_S = 1.0  # speed that is looked at where the scene gives no movement
NEAR_STOPS = 0.1  # loss from which the guide number is said to be too high; our rule, no source
SYNC_S = 1 / 256  # marked 1/250: shortest time of most cameras with a flash; common practice, no source


def level(plan: Planned) -> Iterator[Advice]:
    """How the petal comes out, and by what it would come to the mid-tone."""
    stops = stops_above(plan.levels.whole)
    if not isfinite(stops):
        yield Advice("exposure", "The petal gets no light, or none of it is in the frame.", _LEVEL_RULE)
        return
    way = "over" if stops > 0 else "under"
    words = f"The petal comes out {fixed(abs(stops), 1)} stops {way} the mid-tone"
    if abs(stops) < 0.05:
        words = "The petal comes out at the mid-tone"
    paler = stops_above(plan.seen.mean_reflectance)
    words += f" (it reflects {percent(plan.seen.mean_reflectance)}, {signed(paler)} stops from 18 %)"
    if abs(stops) >= LEVEL_STOPS:
        words += _to_mid_tone(plan, stops)
    minds = abs(stops) >= LEVEL_STOPS
    yield Advice("exposure", f"{words}.", _LEVEL_RULE, stops, "stops", minds, on=("camera",))
    yield from _incident(plan)


_LEVEL_RULE = (
    "mean of the bare petal in the frame against 10/S lux seconds on the sensor (standard ISO 12232)"
)


def _to_mid_tone(plan: Planned, stops: float) -> str:
    if len(plan.flashes) == 1:
        return f"; power {power_words(plan.settings.power * 2.0**-stops)} would bring it there"
    lights = "power on every flash" if plan.flashes else "time"
    return f"; {fixed(abs(stops), 1)} stops {'less' if stops > 0 else 'more'} {lights} would bring it there"


def _incident(plan: Planned) -> Iterator[Advice]:
    if plan.flash is None:
        return
    light = next(each for each in plan.stage.lights if each.name == plan.flash.name)
    stops = incident_stops(plan.scene, plan.stage, light)
    change = f"{fixed(abs(stops), 1)} stops {'less' if stops > 0 else 'more'}"
    words = (
        f"A meter held at the subject and turned to {light.name} would call for "
        f"{change if abs(stops) >= 0.05 else 'just that'}: a petal paler than 18 % or turned away comes out "
        "otherwise."
    )
    rule = f"E t = C N²/S with C = {ILLUMINANCE_CONSTANT:g}, effective f-number (standard ISO 2720)"
    yield Advice("incident meter", words, rule, stops, "stops", False)


def ratio(plan: Planned) -> Iterator[Advice]:
    """Lighting ratio, by the convention that is stated."""
    rule = (
        "(key + fill) : fill, light on the seen side of the petal, shadows left out; fill is all but the key"
    )
    if not plan.stage.lights or not len(plan.seen):
        return
    if plan.ratio is None:
        words = f"{plan.stage.lights[0].name} lights the petal from behind only: no lighting ratio."
        yield Advice("lighting ratio", words, rule, minds=False)
        return
    found = plan.ratio.ratio
    if found == inf:
        yield Advice("lighting ratio", "No fill at all: shadows are black.", rule, None, "stops")
        return
    stops = log2(found)
    alone = stops_above(plan.ratio.key_lx_s, plan.ratio.fill_lx_s)
    words = f"Lighting ratio {significant(found)} : 1, {fixed(stops, 1)} stops between lit petal and shadow"
    words += f"; {plan.ratio.key} alone is {signed(alone)} stops from the fill." if isfinite(alone) else "."
    yield Advice("lighting ratio", words, rule, stops, "stops", False)


def highlights(plan: Planned) -> Iterator[Advice]:
    """Whether the mirrored faces clip, light by light."""
    for light in plan.stage.lights:
        over = highlight_stops_over(plan, light)
        if over > 0.05:
            yield Advice("highlights", _clip_words(light, over), _CLIP_RULE, over, "stops", on=(light.name,))
        elif light is plan.stage.lights[0]:
            words = f"Highlights of {light.name} stay {fixed(max(-over, 0.0), 1)} stops under clipping."
            yield Advice("highlights", words, _CLIP_RULE, over, "stops", False)


_CLIP_RULE = (
    "luminance of the face times Fresnel’s share at half the light’s angle, against saturation at 78/S "
    "(standard ISO 12232)"
)


def highlight_stops_over(plan: Planned, light: StagedLight) -> float:
    """Stops by which a light's mirror image in a drop lies over the sensor's saturation."""
    angle, _ = angle_and_clock(light.face.centre)
    exposure = plan.scene.exposure
    bright = light.output / (1e-6 * light.face.area_mm2) * float(highlight_luminance_share(angle))
    time_s = 1.0 if light.kind == "flash" else exposure.shutter_s
    on_sensor = image_exposure_lxs(bright, plan.stage.camera.effective_f_number, time_s)
    return stops_above(on_sensor * linear_per_lxs(exposure.exact_iso), SATURATION)


def _clip_words(light: StagedLight, over: float) -> str:
    grow = 2.0 ** (over / 2)
    width, height = 2.0 * light.face.half_width_mm * grow, 2.0 * light.face.half_height_mm * grow
    size = f"{width:.0f} mm across" if light.face.round else f"{width:.0f} × {height:.0f} mm"
    less = "power" if light.kind == "flash" else "exposure"
    return (
        f"Highlights of {light.name} clip by {fixed(over, 1)} stops: that much less {less}, or a face of "
        f"{size} for the same light on the petal, would hold them."
    )


def ghost(plan: Planned) -> Iterator[Advice]:
    """Whether the room's light will draw a second, smeared picture."""
    if plan.levels.part(FLASH) <= 0.0:
        yield from _no_flash(plan)
        return
    below = plan.levels.room_stops_below_flash
    if below == inf:
        return
    motion_words, smear_um, smear_px = _smear(plan)
    shows = below < GHOST_STOPS and smear_px > GHOST_PX
    words = (
        f"Room light lies {below_words(below)} ({percent(plan.levels.room_share)} of the light); in "
        f"{_time(plan)} {motion_words} smears it over {_length(smear_um)} ({significant(smear_px)} sensor "
        "pixels): "
    )
    if shows:
        lack = GHOST_STOPS - below
        words += (
            f"it will ghost. {fixed(lack, 1)} stops less of it (a shorter shutter, a darker room) would do."
        )
    else:
        words += f"it stays unseen, {_how_near(below, smear_px)}."
    rule = (
        f"it shows less than {GHOST_STOPS:g} stops below the flash and over more than {GHOST_PX:g} pixels "
        "(our rule)"
    )
    yield Advice("ghost", words, rule, below, "stops", shows, on=("camera",))


def _how_near(below: float, smear_px: float) -> str:
    """How far room light is from showing as a ghost."""
    room, smear = below - GHOST_STOPS, smear_px / GHOST_PX
    parts = [f"{fixed(room, 1)} stops"] if room >= 0.0 else []
    if smear <= 1.0:
        parts.append(f"{significant(1.0 / max(smear, 1e-9))} times the movement")
    return f"{' and '.join(parts)} from where it would show"


def _smear(plan: Planned) -> tuple[str, float, float]:
    """Speed in words, and the smear while the shutter is open: micrometres at the subject, sensor pixels."""
    motion = plan.scene.motion
    speed = STILL_MM_S if motion is None else motion.speed_mm_s
    motion_words = f"{plain(speed)} mm/s" + (" (supposed)" if motion is None else "")
    smear_um = 1000.0 * speed * plan.scene.exposure.shutter_s
    pixel_um = 1000.0 * plan.train.sensor_mm[0] / plan.train.sensor_px[0] / plan.train.magnification
    return motion_words, smear_um, smear_um / pixel_um


def _time(plan: Planned) -> str:
    return SHUTTER_TIMES.label(plan.scene.exposure.shutter_s)


def _length(um: float) -> str:
    return f"{significant(um)} µm" if um < 1000.0 else f"{significant(um / 1000.0)} mm"


def _no_flash(plan: Planned) -> Iterator[Advice]:
    """All the light comes while the shutter is open."""
    motion_words, smear_um, smear_px = _smear(plan)
    words = (
        f"Without a flash all light comes while the shutter is open: in {_time(plan)} {motion_words} smears "
        f"the picture over {_length(smear_um)} ({significant(smear_px)} sensor pixels)."
    )
    rule = f"speed times shutter time; it shows over more than {GHOST_PX:g} pixels (our rule)"
    yield Advice("movement", words, rule, smear_px, "pixels", smear_px > GHOST_PX, on=("camera",))


def near(plan: Planned) -> Iterator[Advice]:
    """Whether a flash stands too near for its guide number."""
    for light in plan.stage.lights:
        if light.kind != "flash":
            continue
        distance = float(np.linalg.norm(light.face.centre))
        loss = -face_size(light.face).near_loss_stops(distance)
        if loss > NEAR_STOPS:
            words = (
                f"{light.name} is too near for its guide number: {plain(distance, 0)} mm from its face "
                f"({face_words(light.face.shape, *light.face.size_mm)}) it gives {fixed(loss, 1)} stops less "
                "than the inverse square promises (counted in all figures here)."
            )
            rule = "a face of even luminance by its configuration factor against I/d² (standard ISO 1230)"
            yield Advice("guide number", words, rule, loss, "stops", on=(light.name,))


def synchronised(plan: Planned) -> Iterator[Advice]:
    """Shutter times that a flash cannot follow, and powers that few flashes have."""
    if plan.flash is None:
        return
    shutter = plan.scene.exposure.shutter_s
    if shutter < SYNC_S * 0.98:
        words = f"{_time(plan)} is shorter than most cameras allow with a flash, 1/250 s or a little longer."
        yield Advice("synchronisation", words, "common practice, no source", shutter, "s", on=("camera",))
    for light in plan.scene.lights:
        if light.kind == "flash" and light.power < 1 / 128 * 0.999:
            words = f"{light.name} at {power_words(light.power)}: many flashes end at 1/128."
            yield Advice("power", words, "common practice, no source", light.power, "", on=(light.name,))
