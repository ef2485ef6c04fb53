"""What is on the set, in words and numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from lightsim.errors import printable
from lightsim.planning.levels import below_words, light_figures, ratio_words, trust_words
from lightsim.planning.settings_words import lens_line, movement_line, settings_words, working_distance_words
from lightsim.report.words import (
    card_kind,
    clock_words,
    degrees,
    face_words,
    percent,
    plain,
    signed,
    significant,
    trade_name,
)
from lightsim.scene.build import build
from lightsim.scene.describe import describe
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Noise, Scene


@dataclass(frozen=True)
class Checked:
    """A scene that can be built. found : its numbers, as `scene.describe.describe` and
    `light_figures` give them."""

    scene: Scene
    found: dict[str, Any]

    @property
    def warnings(self) -> list[str]:
        """Sentences on what is allowed but may not be meant."""
        return list(self.found["warnings"])

    @property
    def supposed(self) -> list[str]:
        """Phrases on what the scene does not give: of the lens train, of the measures of solid things."""
        lens = () if self.found["lens"] is None else self.found["lens"]["supposed"]
        return [*lens, *self.found["bodies"]["supposed"]]

    def as_dict(self) -> dict[str, Any]:
        """All numbers, units in their names."""
        return self.found

    def lines(self) -> Iterator[tuple[str, str]]:
        """What is on the set: (thing, words)."""
        scene, found = self.scene, self.found
        yield "petal", petal_words(found["petal"])
        yield "drops", placed_drops_words(found["drops"])
        yield "frame", frame_words(found["camera"])
        if found["lens"] is not None:
            yield "lens", lens_line(scene, found["lens"])
        yield "sharpness", sharpness_words(scene, found)
        yield "exposure", exposure_line(scene)
        for light in found["lights"]:
            yield light["name"], light_line(light)
        for card in found["cards"]:
            size = face_words("rectangle", card["width_mm"], card["height_mm"])
            yield card["name"], f"{card_kind(card['reflectance'])} of {size}, {place_words(card)}"
        yield "ambient", ambient_line(found["ambient"])
        yield from _light_on_petal(found)
        backdrop = found["backdrop"]
        yield "backdrop", "none" if backdrop is None else f"{plain(backdrop['distance_mm'])} mm behind"
        if found["motion"] is not None:
            yield "movement", movement_line(found["motion"])
        if scene.noise is not None:
            yield "noise", noise_words(scene.noise)

    def table(self) -> Any:
        """The lines as a table for the terminal."""
        from lightsim.report.tables.measures_table import things_table

        told = "\n".join(printable(line) for line in self.scene.about.splitlines())
        return things_table([*([("", told), ("", "")] if told else []), *self.lines()])


def check_file(path: str | Path) -> Checked:
    """Read and build a scene; SceneError says everything that is wrong with it."""
    return checked_scene(load_scene(path))


def checked_scene(scene: Scene) -> Checked:
    """Build a scene and gather what is on its set; SceneError says everything that is wrong with it."""
    stage = build(scene)
    return Checked(scene, {**describe(scene, stage), **light_figures(scene, stage)})


def _light_on_petal(found: dict[str, Any]) -> Iterator[tuple[str, str]]:
    levels = found["levels"]
    stops = levels["petal_stops_from_mid_tone"]
    if not isfinite(stops):
        return
    below = levels["room_light_stops_below_flash"]
    room = f"; room light {below_words(below)}" if isfinite(below) else ""
    yield "level", f"petal {signed(stops)} stops from the mid-tone{room} ({trust_words(levels)})"
    if found["lights"]:
        yield "lighting ratio", ratio_words(found["lighting_ratio"])


def petal_words(petal: dict[str, Any]) -> str:
    """Form, size and how much of the frame it fills."""
    what = f"mesh {Path(petal['file']).name}" if petal["file"] else petal["form"]
    size = f"{plain(petal['seen_width_mm'], 1)} × {plain(petal['seen_height_mm'], 1)} mm as it is seen"
    depth = f"{plain(petal['depth_mm'], 1)} mm deep"
    fills = f"fills {percent(petal['frame_share'])} of the frame"
    return f"{what}, {size}, {depth}, {petal['triangles']:,} triangles; {fills}"


def placed_drops_words(drops: dict[str, Any]) -> str:
    """How many, how large, at what contact angle."""
    if drops["placed"] == 0:
        return "none"
    wanted = "" if drops["placed"] == drops["wanted"] else f" of {drops['wanted']}"
    least, most = significant(drops["diameter_least_mm"]), significant(drops["diameter_most_mm"])
    median = f"{significant(drops['diameter_median_mm'])} mm across"
    size = median if least == most else f"{median} in the median ({least} to {most})"
    low, high = plain(drops["contact_angle_least_deg"], 1), plain(drops["contact_angle_most_deg"], 1)
    angle = f"contact angle {low}°" if low == high else f"contact angles {low} to {high}°"
    return f"{drops['placed']}{wanted}, {drops['in_frame']} of them in the frame; {size}; {angle}"


def frame_words(camera: dict[str, Any]) -> str:
    """What the frame covers and how it is cut into pixels."""
    field = f"{plain(camera['field_width_mm'], 1)} × {plain(camera['field_height_mm'], 1)} mm"
    pixels = f"{camera['width_px']} × {camera['height_px']} pixels of {significant(camera['mm_per_px'])} mm"
    return f"{field} (magnification {plain(camera['magnification'])}), {pixels}"


def sharpness_words(scene: Scene, found: dict[str, Any]) -> str:
    """Where it is sharp, and how deep."""
    camera, focus = found["camera"], found["focus"]
    places = {
        "petal": "sharp on the petal",
        "drop": f"sharp on the front of drop {focus['drop']}",
        "offset": f"sharp {plain(focus['offset_mm'])} mm before the petal",
    }
    depth = f"depth of field {significant(camera['depth_of_field_mm'])} mm"
    blur = f"a point 1 mm off is {significant(camera['blur_mm_per_mm'])} mm wide"
    distance = f"working distance {plain(camera['working_distance_mm'], 1)} mm"
    if found["lens"] is not None:
        distance = working_distance_words(found["lens"])
    return f"{places[focus['on']]}; {depth}, {blur}; {distance}"


def exposure_line(scene: Scene) -> str:
    """The settings, and what they are held to."""
    automatic = ", then moved so that the petal is at mid-tone" if scene.exposure.auto else ""
    camera = build(scene).camera
    return f"{settings_words(scene)} (effective f/{plain(camera.effective_f_number, 1)}){automatic}"


def place_words(face: dict[str, Any]) -> str:
    """Where a face stands, with the trade's name."""
    angle = face["angle_deg"]
    where = f"{degrees(angle)} off the lens axis ({trade_name(angle)}) at {clock_words(face['clock'])}"
    return f"{where}, {plain(face['distance_mm'], 0)} mm away"


def light_line(light: dict[str, Any]) -> str:
    """Kind, face, place, output and what arrives."""
    flash = light["kind"] == "flash"
    amount = light["exposure_lx_s"] if flash else light["illuminance_lx"]
    unit = "lx s" if flash else "lx"
    arrives = f"gives {significant(amount, 3)} {unit} at the subject by the inverse square"
    loss = light["diffuser_loss_stops"]
    face = face_words(light["shape"], light["width_mm"], light["height_mm"], light["inner_width_mm"])
    size = f"{face} ({significant(light['seen_deg'])}° wide from the subject)"
    if loss is not None:
        size = f"diffuser of {size}, taking {plain(loss)} stops"
    kind = "" if light["kind"] == light["name"] else f"{light['kind']}, "
    return f"{kind}{size}, {place_words(light)}; {arrives}, {light['colour_temperature_k']:g} K"


def ambient_line(ambient: dict[str, Any]) -> str:
    """The light of the room."""
    if ambient["illuminance_lx"] <= 0.0:
        return "none"
    gradient = ambient["gradient"]
    shape = "the same all round" if gradient == 0.0 else f"brighter above (gradient {plain(gradient)})"
    words = f"{significant(ambient['illuminance_lx'], 3)} lx, {shape}, {ambient['colour_temperature_k']:g} K"
    return words


def noise_words(noise: Noise) -> str:
    """The sensor's figures."""
    return (
        f"{plain(noise.full_well_e, 0)} electrons fill a pixel at ISO {plain(noise.base_iso, 0)}, "
        f"{plain(noise.read_noise_e, 1)} from reading it"
    )
