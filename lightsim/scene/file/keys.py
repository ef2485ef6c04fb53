"""Every key of a scene, with its unit, what is allowed and one line about it.

The tables below and the records' own types are all there is to the file's layout: reading, writing,
checking and the commented template follow from them. A new key is a field of a record and a line here; a
new section is a record, a field of `Scene` and a table.
"""

from __future__ import annotations

from dataclasses import dataclass

from lightsim.optics.colour import TEMPERATURE_RANGE_K
from lightsim.optics.lens_records import StackedLens
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Diffuser,
    Drops,
    Exposure,
    Focus,
    Lens,
    Light,
    Motion,
    Noise,
    Petal,
    PlacedDrop,
    Scene,
)


@dataclass(frozen=True)
class Rule:
    """What is allowed for one key.

    about : one line.  unit : "" for a bare number.
    low, high : allowed numbers, the low end itself only when not `above`; for each number of a list.
    choices : allowed words.
    written : for a number how text may stand for it besides with its unit, as `typed_number` has it; "name"
        for text of 1 to 60 printable characters.
    """

    about: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    above: bool = False
    choices: tuple[str, ...] = ()
    written: str = ""


def _mm(about: str, low: float, high: float, above: bool = False) -> Rule:
    return Rule(about, "mm", low, high, above)


def _share(about: str) -> Rule:
    return Rule(about, "", 0.0, 1.0)


def _degrees(about: str, low: float, high: float) -> Rule:
    return Rule(about, "degrees", low, high)


FAR_MM = 1e6  # a kilometre: a light there is as good as infinitely far away

_POSITION = _mm("place of the centre (x right, y up, z toward the lens), instead of angle, clock, distance",
                -FAR_MM, FAR_MM)  # fmt: skip
_AIM = _mm("the point that the face looks at; 0, 0, 0 is where it is sharp", -FAR_MM, FAR_MM)
_ANGLE = _degrees("angle off the lens axis: 0 from the lens, 90 from the side, 180 from behind", 0.0, 180.0)
_CLOCK = Rule("clock position seen from the camera: 12 above, 3 right", "o'clock", 0.0, 12.0)
_DISTANCE = _mm("from the point of sharp focus to the centre of the face", 0.0, FAR_MM, above=True)
_KELVIN = Rule("colour temperature", "K", *TEMPERATURE_RANGE_K)

KEYS: dict[type, dict[str, Rule]] = {
    Scene: {
        "title": Rule("title of the pages; the file's name when left out", written="name or nothing"),
        "about": Rule("what the scene shows, in your own words"),
        "bodies": Rule("lens, camera and lamp heads are solid: they hide light, and the drops mirror them"),
    },
    Petal: {
        "form": Rule("form of the petal; mesh takes it from a file",
                     choices=("flat", "cupped", "ruffled", "saddle", "mesh")),
        "file": Rule("mesh file (PLY, OBJ, STL, GLB ...), its place seen from the scene file"),
        "width_mm": _mm("width across the petal", 0.5, 1000.0),
        "length_mm": _mm("length from foot to tip", 0.5, 1000.0),
        "curl": Rule("depth of the form as a share of half the width; negative curls away from the lens",
                     "", -1.0, 1.0),
        "ruffles": Rule("number of waves round the edge of the ruffled form", "", 1, 60),
        "outline": Rule("outline: petal has a narrow foot and a round tip", choices=("petal", "rectangle")),
        "tilt_deg": _degrees("lean against the lens axis: 0 faces the lens, 90 shows the edge", 0.0, 90.0),
        "tilt_clock": Rule("the side that leans back, as a clock position", "o'clock", 0.0, 12.0),
        "turn_deg": _degrees("turn in its own plane, counter-clockwise; 0 has the foot below", -360.0, 360.0),
        "mesh_spacing_mm": _mm("edge length of the triangles; finer shows finer veins", 0.01, 50.0),
        "reflectance_foot": _share("share of light reflected at the foot: red, green, blue"),
        "reflectance_tip": _share("share of light reflected at the tip: red, green, blue"),
        "transmittance_foot": _share("share of light let through at the foot: red, green, blue"),
        "transmittance_tip": _share("share of light let through at the tip: red, green, blue"),
        "veins": Rule("number of main veins that fan out from the foot; 0 for none", "", 0, 60),
        "vein_strength": _share("share by which a vein darkens the petal"),
        "mottle": _share("share by which fine irregular flecks darken the petal"),
        "relief_mm": _mm("height of the veins and the fine wrinkles; 0 is smooth", 0.0, 2.0),
        "pattern": Rule("number that chooses the course of veins and wrinkles", "", 0, 2**31 - 1),
        "gloss": _share("share of the cuticle's mirror reflection that shows"),
        "gloss_roughness": Rule("roughness of the gloss: 0.1 silky, 0.5 dull", "", 0.05, 1.0),
        "scale": Rule("mesh files only: millimetres for one unit of the file; without it 1, "
                      "and 1000 for GLB and glTF, which are in metres", "mm", 0.0, 1e6, above=True),
        "rotate_deg": _degrees("mesh files only: turns about x, then y, then z", -360.0, 360.0),
        "reflectance": _share("mesh files only: share of light reflected where the file has no colours"),
    },
    Drops: {
        "count": Rule("number of drops scattered by area", "", 0, 100_000),
        "diameter_mm": _mm("median diameter of the drops' spheres", 0.01, 20.0),
        "diameter_spread": Rule("spread of the diameters (geometric standard deviation); 1: alike",
                                "", 1.0, 4.0),
        "contact_angle_deg": _degrees("angle of water on petal; above 90 a drop overhangs", 60.0, 150.0),
        "seed": Rule("number that chooses where the drops fall", "", 0, 2**31 - 1),
        "gap_mm": _mm("least clear distance between two drops", 0.0, 100.0),
        "placed": Rule("drops put by hand, each under its own heading [[drops.placed]]"),
    },
    PlacedDrop: {
        "x_mm": _mm("across the petal from its centre, in its own frame", -1000.0, 1000.0),
        "y_mm": _mm("along the petal from its centre, toward the tip", -1000.0, 1000.0),
        "diameter_mm": _mm("diameter of the drop's sphere", 0.01, 20.0),
        "contact_angle_deg": _degrees("contact angle, where it differs from the other drops'", 60.0, 150.0),
    },
    Camera: {
        "field_width_mm": _mm("width of what the frame covers, where it is sharp; 24 without a lens train",
                               0.1, 1000.0),
        "working_distance_mm": _mm("from the point of sharp focus to the front of the lens; 120 without a "
                                   "lens train", 1.0, 10_000.0),
        "f_number": Rule("f-number as marked; the effective one follows from the magnification",
                         "", 0.5, 1000.0, written="f-number"),
        "sensor_mm": _mm("width and height of the sensor", 1.0, 300.0),
        "sensor_px": Rule("pixels of the sensor, across and up", "pixels", 16, 100_000),
        "diffraction": Rule("spread the light in the picture as the lens opening does"),
        "looks_down_deg": _degrees("0: the lens axis is level; 90: the camera looks straight down",
                                   -90.0, 90.0),
        "focus": Rule("where it is sharp"),
        "width_px": Rule("width of the picture", "pixels", 16, 30_000),
    },
    Focus: {
        "on": Rule("sharp on the petal's point, on a drop's front, or off the petal by offset_mm",
                   choices=("petal", "drop", "offset")),
        "x_mm": _mm("the petal's point, right of the petal's centre in the picture", -1000.0, 1000.0),
        "y_mm": _mm("the petal's point, above the petal's centre in the picture", -1000.0, 1000.0),
        "drop": Rule("number of the drop, the first is 0; without it the largest", "", 0, 200_000),
        "offset_mm": _mm("nearer to the lens than the petal's point (on = \"offset\")", -1000.0, 1000.0),
    },
    Lens: {
        "focal_length_mm": _mm("as marked", 1.0, 5000.0),
        "native_magnification": Rule("what the lens gives by itself where its focus ring stands; "
                                     "0 at infinity, 1 is life size", "", 0.0, 20.0, written="magnification"),
        "native_working_distance_mm": _mm("free distance before the bare lens at its native magnification, "
                                          "where known", 1.0, 10_000.0),
        "barrel_diameter_mm": _mm("outer diameter of the lens at its front, where known", 1.0, 1000.0),
        "barrel_length_mm": _mm("length of the lens from its mount to its front, as it is focused, without "
                                "tubes, where known", 1.0, 2000.0),
        "native_focus_distance_mm": _mm("from the subject to the sensor there, where known; makers give the "
                                        "one of the closest focus",
                                1.0, 20_000.0),
        "focal_length_close_mm": _mm("focal length there, where known; lenses that focus inside shorten it",
                                     1.0, 5000.0),
        "extension_tubes_mm": _mm("lengths of the tubes, or the bellows, between lens and camera; they add",
                                  0.0, 2000.0),
        "close_up_dioptres": Rule("strengths of the close-up lenses screwed before the lens, the one next to "
                                  "the subject first; none is []", "dioptres", 0.0, 100.0),
        "close_up_spacing_mm": _mm("from the front of the lens to the close-up lens, and to the next one",
                                   0.0, 500.0),
        "teleconverter": Rule("factor of a teleconverter behind the lens; 1 for none", "", 1.0, 4.0),
        "teleconverter_on": Rule("what it is mounted on; the tubes are at its other side",
                                 choices=("camera", "lens")),
        "teleconverter_length_mm": _mm("by how much it moves the camera back, where known; 20 is supposed "
                                       "for a factor of 1.4, 50 for 2", 1.0, 500.0),
        "reversed": Rule("mounted back to front, its filter thread toward the camera"),
        "flange_distance_mm": _mm("from the camera's mount to the sensor, where known; 44 is supposed",
                                  1.0, 500.0),
        "lens_flange_distance_mm": _mm("the same of the camera that the lens was made for, where it differs",
                                       1.0, 500.0),
        "pupil_ratio": Rule("exit pupil / entrance pupil", "", 0.05, 20.0),
        "widest_f_number": Rule("smallest f-number that the lens has, where known", "", 0.5, 100.0,
                                written="f-number"),
        "circle_mm": _mm("circle of confusion on the sensor; without it the diagonal / 1500",
                         0.0, 1.0, above=True),
        "stacked": Rule("a second lens, back to front before the first"),
    },
    StackedLens: {
        "focal_length_mm": _mm("as marked; the lens is focused at infinity", 1.0, 5000.0),
        "f_number": Rule("f-number set on it, as marked; leave out where it is wide open and limits nothing",
                         "", 0.5, 1000.0, written="f-number"),
        "pupil_ratio": Rule("exit pupil / entrance pupil, the lens the right way round", "", 0.05, 20.0),
        "thread_mm": _mm("its filter thread ahead of its front principal plane, where known; 45 is supposed",
                         0.0, 500.0),
        "flange_distance_mm": _mm("from its mount to the sensor that it was made for, where not the camera's",
                                  1.0, 500.0),
    },
    Motion: {
        "speed_mm_s": Rule("speed at the subject while the shutter is open", "mm/s", 0.0, 10_000.0),
        "clock": Rule("where to in the picture: 12 up, 3 right", "o'clock", 0.0, 12.0),
    },
    Noise: {
        "full_well_e": Rule("electrons that fill a pixel at the base speed", "electrons", 100.0, 1e7),
        "base_iso": Rule("the ISO speed at which they do", "", 1.0, 1e5),
        "read_noise_e": Rule("standard deviation of one reading", "electrons", 0.0, 1000.0),
        "seed": Rule("number that chooses the noise", "", 0, 2**31 - 1),
    },
    Exposure: {
        "iso": Rule("ISO speed", "", 1.0, 1e7, written="iso"),
        "shutter_s": Rule("shutter time; text as marked, \"1/125\" means 1/128", "s", 1e-6, 3600.0,
                          written="shutter"),
        "auto": Rule("expose so that the petal's mean comes out at mid-tone"),
        "white_balance": Rule("what comes out white: a light's name, \"key\" (the first light), \"ambient\", "
                              "or a colour temperature", "K", *TEMPERATURE_RANGE_K),
    },
    Light: {
        "name": Rule("name of the light; each has its own", written="name"),
        "kind": Rule("a flash, or a continuous light", choices=("flash", "continuous")),
        "shape": Rule("shape of the glowing face; a ring is held at the lens's front",
                      choices=("rectangle", "round", "ring")),
        "width_mm": _mm("width of the face (level in the picture), or its diameter", 0.1, 100_000.0),
        "height_mm": _mm("height of the face", 0.1, 100_000.0),
        "inner_width_mm": _mm("inner diameter of a ring; without it three quarters of the outer one",
                              0.1, 100_000.0),
        "head_depth_mm": _mm("depth of the head, from its face to its back, where known", 0.1, 1000.0),
        "angle_deg": _ANGLE,
        "clock": _CLOCK,
        "distance_mm": _DISTANCE,
        "position_mm": _POSITION,
        "aim_mm": _AIM,
        "guide_number_m": Rule("flash: guide number at ISO 100 and full power", "m", 0.0, 1000.0, above=True),
        "power": Rule("flash: fraction of full power, as \"1/16\"", "", 0.0005, 1.0, written="fraction"),
        "intensity": Rule("on the axis far away, at full power, instead of guide_number_m or illuminance_lx",
                          "cd s (flash) or cd", 0.0, 1e9, above=True),
        "illuminance_lx": Rule("continuous: what it gives at the point of sharp focus, by the inverse square",
                               "lx", 0.0, 1e7, above=True),
        "ev100": Rule("continuous: the same as an incident-light meter reads it, EV at ISO 100", "EV",
                      -20.0, 30.0),
        "colour_temperature_k": _KELVIN,
        "flash_duration_s": Rule("flash: how long it burns, as \"1/2000\"", "s", 1e-6, 1.0,
                                 written="fraction"),
        "diffuser": Rule("a white sheet before the light's head"),
    },
    Diffuser: {
        "shape": Rule("shape of the sheet", choices=("rectangle", "round")),
        "width_mm": _mm("width of the sheet (level in the picture), or its diameter", 0.1, 100_000.0),
        "height_mm": _mm("height of the sheet", 0.1, 100_000.0),
        "loss_stops": Rule("light that it takes, on the axis", "stops", 0.0, 10.0),
    },
    Card: {
        "name": Rule("name of the card", written="name"),
        "width_mm": _mm("width of the card (level in the picture)", 0.1, 100_000.0),
        "height_mm": _mm("height of the card", 0.1, 100_000.0),
        "angle_deg": _ANGLE,
        "clock": _CLOCK,
        "distance_mm": _DISTANCE,
        "position_mm": _POSITION,
        "aim_mm": _AIM,
        "reflectance": _share("share of light reflected, matt"),
    },
    Ambient: {
        "illuminance_lx": Rule("the room's light: its mean over all directions, times pi", "lx", 0.0, 1e6),
        "ev100": Rule("the same as an incident-light meter reads it, EV at ISO 100, instead of "
                      "illuminance_lx", "EV", -20.0, 30.0),
        "gradient": _share("0 the same all round, 1 bright above and dark below"),
        "colour_temperature_k": _KELVIN,
    },
    Backdrop: {
        "distance_mm": _mm("behind the point of sharp focus", 0.0, FAR_MM, above=True),
        "width_mm": _mm("width and height of the matt wall", 1.0, FAR_MM),
        "reflectance": _share("share of light reflected: red, green, blue"),
    },
}  # fmt: skip

# What a section is for, one line each.
SECTIONS: dict[type, str] = {
    Petal: "The petal: its own frame has x across, y from foot to tip, its front toward the lens.",
    Drops: "Drops of water on the petal's front: scattered, put by hand, or both.",
    PlacedDrop: "One drop put by hand.",
    Camera: "The camera; framed by a field width unless a lens train says what it frames.",
    Lens: "The lens train: it sets field width and working distance, so leave those two out of [camera].",
    StackedLens: "A second lens screwed back to front before the first; leave the section out for none.",
    Motion: "Movement during the exposure; leave the section out for none.",
    Noise: "The sensor's noise; leave the section out for a clean picture.",
    Diffuser: "A diffuser before the light's head: it becomes the glowing face, and stands where the light "
    "stands.",
    Focus: "Where it is sharp; this point is also the middle of the picture.",
    Exposure: "Settings of the exposure; none of them needs a new trace.",
    Light: "A light with a flat glowing face; the first one is the key. Give exactly one of guide_number_m "
    "(flash), intensity, illuminance_lx or ev100 (continuous).",
    Card: "A white reflector card, lit by the lights.",
    Ambient: "The light of the room, a dome all around.",
    Backdrop: "A matt square wall behind the subject; leave the section out for none.",
}
