"""The settings that a plan of the set-up lists: camera, lens, lights and flower, in numbers and in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lightsim.optics.marks import FLASH_POWERS
from lightsim.planning.levels import train_of
from lightsim.planning.settings_words import (
    ambient_words,
    close_up_words,
    drops_words,
    output_words,
    settings_words,
    with_range,
    working_distance_words,
)
from lightsim.report.words import clock_words, plain, significant
from lightsim.scene.camera import half_field_mm
from lightsim.scene.describe import lens_figures
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Stage


def plan_numbers(scene: Scene, stage: Stage) -> dict[str, Any]:
    """The camera's figures on a plan of the set-up, units in their names."""
    width, height = (2.0 * half_field_mm(stage.camera)).tolist()
    return {
        "magnification": stage.camera.magnification,
        "field_width_mm": width,
        "field_height_mm": height,
        "f_number": scene.camera.f_number,
        "effective_f_number": stage.camera.effective_f_number,
        "depth_of_field_mm": train_of(scene).depth.total_mm,
        "shutter_s": scene.exposure.shutter_s,
        "iso": scene.exposure.iso,
    }


def plan_settings(scene: Scene, stage: Stage) -> Iterator[tuple[str, str]]:
    """The settings on a plan of the set-up, each a thing and its words."""
    width, height = (2.0 * half_field_mm(stage.camera)).tolist()
    depth = train_of(scene).depth.total_mm
    yield "lens", lens_setting(scene, stage)
    sensor = " × ".join(plain(side, 1) for side in scene.camera.sensor_mm)
    field = f"{plain(width, 1)} × {plain(height, 1)} mm"
    yield "frame", f"{field}, {_framing(scene, stage)} on a {sensor} mm sensor"
    yield (
        "exposure",
        f"{settings_words(scene)}; effective f/{plain(stage.camera.effective_f_number, 1)}"
        f"{', brought to mid-tone afterwards' if scene.exposure.auto else ''}",
    )
    yield "sharp", f"{focus_words(scene)}; depth of field {significant(depth)} mm"
    yield "white balance", white_balance_words(scene)
    for light in scene.lights:
        yield light.name, light_settings(light)
    yield "room", ambient_words(scene).removeprefix("ambient ")
    yield "flower", f"{petal_pose_words(scene)}; {drops_words(stage)}"


def _framing(scene: Scene, stage: Stage) -> str:
    """Magnification, with its range where a lens train leaves something open."""
    figures = lens_figures(scene)
    if figures is None:
        return f"magnification {plain(stage.camera.magnification)}"
    return f"magnification {with_range(figures['magnification'], figures['magnification_range'], 2)}"


def lens_setting(scene: Scene, stage: Stage) -> str:
    """The lens train in a line."""
    lens, camera = scene.lens, stage.camera
    if lens is None:
        return (
            f"one that magnifies {plain(camera.magnification)} at {plain(camera.working_distance_mm, 0)} mm"
        )
    by_itself = plain(lens.native_magnification)
    alone = f", by itself at {by_itself}" if lens.native_magnification > 0 else ", focused at infinity"
    turned = ", reversed" if lens.reversed else alone
    parts = [f"{plain(lens.focal_length_mm, 1)} mm{turned}"]
    tubes = [tube for tube in lens.extension_tubes_mm if tube > 0.0]
    if tubes:
        total = f" = {plain(sum(tubes), 1)}" if len(tubes) > 1 else ""
        parts.append(f"tubes {' + '.join(plain(tube, 1) for tube in tubes)}{total} mm")
    if lens.teleconverter > 1.0:
        parts.append(f"teleconverter {plain(lens.teleconverter)}×")
    if any(lens.close_up_dioptres):
        parts.append(close_up_words(lens.close_up_dioptres))
    if lens.stacked is not None:
        parts.append(f"{plain(lens.stacked.focal_length_mm, 1)} mm reversed before it")
    figures = lens_figures(scene)
    assert figures is not None
    return f"{', '.join(parts)}; {working_distance_words(figures)}"


def focus_words(scene: Scene) -> str:
    """What is to be sharp."""
    focus = scene.camera.focus
    if focus.on == "drop":
        return "front of the largest drop" if focus.drop is None else f"front of drop {focus.drop}"
    place = "middle of the petal" if focus.x_mm == 0.0 == focus.y_mm else (
        f"petal {plain(focus.x_mm, 1)} mm across, {plain(focus.y_mm, 1)} mm up from its middle"
    )  # fmt: skip
    return place if focus.on == "petal" else f"{plain(focus.offset_mm, 1)} mm before the {place}"


def white_balance_words(scene: Scene) -> str:
    """What comes out white."""
    wanted = scene.exposure.white_balance
    if isinstance(wanted, str):
        return f"for the {scene.lights[0].name if wanted == 'key' and scene.lights else wanted}"
    return f"{wanted:g} K"


def light_settings(light: Light) -> str:
    """A light's output."""
    if light.ev100 is not None:
        parts = [f"EV {plain(light.ev100, 1)} at the subject (ISO 100)"]
    elif light.illuminance_lx is not None:
        parts = [f"{output_words(light)} at the subject"]
    else:
        parts = [output_words(light)]
    if light.kind == "flash" and light.power == 1.0 and FLASH_POWERS.label(1.0) not in parts[0]:
        parts.append("full power")
    if light.diffuser is not None:
        parts.append(f"diffuser takes {plain(light.diffuser.loss_stops, 1)} stops")
    return ", ".join([*parts, f"{light.colour_temperature_k:g} K"])


def petal_pose_words(scene: Scene) -> str:
    """The petal's form and how it is turned."""
    petal = scene.petal
    what = "own mesh" if petal.file is not None else f"{petal.form} petal"
    parts = [
        what if petal.file is not None else f"{what} {plain(petal.width_mm)} × {plain(petal.length_mm)} mm"
    ]
    if petal.tilt_deg:
        parts.append(f"leans {plain(petal.tilt_deg, 1)}° back at {clock_words(petal.tilt_clock)}")
    if petal.turn_deg:
        way = "left" if petal.turn_deg > 0 else "right"
        parts.append(f"turned {plain(abs(petal.turn_deg), 1)}° {way}")
    return ", ".join(parts)
