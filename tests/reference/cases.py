"""The sets that are held against the path tracer, and how far each class of pixels may differ."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import cos, pi, sin
from pathlib import Path

from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Ambient, Card, Diffuser, Drops, Focus, Light, Petal, PlacedDrop, Scene
from tests.reference.compare import without_gloss
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

SCENES = Path(__file__).parents[2] / "scenes"

# a face large and near enough for a path tracer to find it through the water
SOFT = lamp(angle_deg=45.0, clock=10.0, distance_mm=150.0, width_mm=120.0, height_mm=120.0)
SIDE = SOFT.moved(angle_deg=75.0)
FRONTAL = SOFT.moved(angle_deg=15.0)
BACK = SOFT.moved(angle_deg=135.0)
HARD = lamp(angle_deg=60.0, clock=2.0, distance_mm=200.0, width_mm=30.0, height_mm=20.0)
SHEET = lamp(angle_deg=60.0, clock=8.0, distance_mm=90.0).moved(
    diffuser=Diffuser(width_mm=160.0, height_mm=120.0)
)
RAKING = SOFT.moved(angle_deg=86.0, width_mm=60.0, height_mm=60.0)
SECOND = replace(SOFT.moved(angle_deg=60.0, clock=3.0), name="second")
PAIR = Drops(
    count=0, placed=(PlacedDrop(-0.7, 0.0, 1.2), PlacedDrop(0.75, 0.2, 1.4)), contact_angle_deg=110.0
)
SIXTY = Drops(count=60, diameter_mm=0.9, diameter_spread=1.3, contact_angle_deg=100.0, seed=3)
CROWD = Drops(count=600, diameter_mm=0.25, diameter_spread=1.3, contact_angle_deg=100.0, seed=4)

# Shares allowed beside the noise. At a drop's rim: soft light on the wet base comes from a grid, and so does
# light that is mirrored more than once inside.
SHARE = {"rim of drops": 0.015}
PLAIN_SHARE = 0.01
BLOCK_SHARE = 0.04
# Light by way of two drops in a row is laid on coarse grids.
CROWD_IN_A_ROW = {"petal in shadow": 0.02}
# The sliver of shadow between two neighbours, and a small light's small shadow, seen by few pixels: where
# it ends is taken between cells of pixels.
SLIVER = 0.15
SMALL_SHADOW = {"petal in shadow": 0.02}
# A wrinkle's shadow that lies between the two pixels from which a wide block is looked at, in a picture of 48
# pixels, where such a block is 2.7 mm wide: up to 1.23 in a block of 4 x 4 pixels, 1.7 in one.
FINE_SHADOW = 0.25
# Soft light under a drop that overhangs the petal far: somewhat too little of a lamp's from the side.
UNDER_A_BALL = {"inside of drops": 0.02}
# A card that is a main light is traced as if it shone evenly; which part of it a drop hides, and of which it
# gathers the light, is told by coarse grids. Of a card that a lamp close by lights seven times as much at one
# side as at the other, up to 1.31 in a block next to the bright spot.
BY_A_CARD = {"inside of drops": 0.025}
ONE_SIDED, EVENLY_LIT = 0.3, 0.12
# Among drops that touch: light by way of two of them, and what one shows of another, from coarse grids.
TOUCH = {"rim of drops": 0.03, "petal in shadow": 0.025, "bright spot": 0.025, "whole picture": 0.015}
# What a caustic on one side of a base sends to the opposite rim by total reflection is too coarse there: up
# to 8 % too dark at the top of the drop.
OPPOSITE_RIM = {"inside of drops": 0.02, "rim of drops": 0.035, "petal in shadow": 0.025}
# Facets that lie several degrees off the normals of the mesh, which gathered light falls by.
COARSE_MESH = {"bright spot": 0.02}


@dataclass(frozen=True)
class Case:
    """A set, the lights that are looked at (None: the dome), and shares of its own.

    by_pixel : whether pixels are held to one another too. In the shadow of a small light, what drops
    mirror is met by so few of the path tracer's paths that a pixel's seeds say little of its noise.
    """

    scene: Scene
    lights: tuple[str, ...] | None = ("lamp",)
    shares: dict[str, float] = field(default_factory=dict)
    block_share: float = BLOCK_SHARE
    by_pixel: bool = True

    def share(self, name: str) -> float:
        """The share that a class of pixels may differ by."""
        return self.shares.get(name, SHARE.get(name, PLAIN_SHARE))


def seen(scene: Scene, lights: tuple[Light, ...], **more: object) -> Case:
    """The scene with these lights through an opening of f/11, or under the dome when there are none."""
    lit = replace(scene, lights=lights, camera=replace(scene.camera, f_number=11.0))
    return Case(lit, tuple(light.name for light in lights) or None, **more)  # type: ignore[arg-type]


def alone(contact_angle_deg: float, *lights: Light, reflectance: float = 0.5, through: float = 0.0) -> Case:
    """One drop of 1.5 mm on a flat petal."""
    return seen(simple(plain_petal(reflectance, through), one_drop(contact_angle_deg)), lights)


def together(*lights: Light) -> Case:
    """Two neighbours on a line that the light comes along."""
    along = tuple(light.moved(clock=9.0) for light in lights)
    return seen(simple(plain_petal(0.5), PAIR, field_mm=5.0), along)


def wrinkled(*lights: Light) -> Case:
    """Two drops on a hollow petal whose relief throws shadows of its own, and half-shadows everywhere."""
    plain = {"veins": 0, "vein_strength": 0.0, "gloss": 0.0}
    petal = Petal(form="cupped", curl=0.2, relief_mm=0.05, mesh_spacing_mm=0.12, **plain)  # type: ignore[arg-type]
    return seen(simple(petal, PAIR, field_mm=8.0), lights, block_share=FINE_SHADOW, by_pixel=False)


def cupped() -> Petal:
    """A curved petal without veins and relief."""
    return replace(plain_petal(0.5, width_mm=20.0), form="cupped", curl=0.3, mesh_spacing_mm=0.25)


def sixty(petal: Petal, *lights: Light) -> Case:
    """Sixty drops, some near enough to shade and mirror one another."""
    return seen(simple(petal, SIXTY, field_mm=12.0), lights)


def crowd(*lights: Light) -> Case:
    """Six hundred drops, of which hundreds lie between a place and a large near face."""
    return seen(simple(plain_petal(0.5, width_mm=11.0), CROWD, field_mm=3.5), lights)


def blurred(*lights: Light) -> Case:
    """One drop, the plane of sharp focus 1.5 mm nearer than the petal, through a wide opening."""
    found = alone(100.0, *lights)
    camera = replace(found.scene.camera, f_number=4.0, focus=Focus(on="offset", offset_mm=1.5))
    return replace(found, scene=replace(found.scene, camera=camera))


def by_card(lamp_mm: tuple[float, float, float], block_share: float) -> Case:
    """One drop on a curved petal, lit by a card alone, that by a lamp which looks away from the petal."""
    card = Card(angle_deg=60.0, clock=3.0, distance_mm=120.0)
    hidden = replace(lamp(width_mm=20.0, height_mm=20.0), position_mm=lamp_mm, aim_mm=(104.0, 0.0, 60.0))
    scene = simple(cupped(), one_drop(110.0), cards=(card,))
    return seen(scene, (hidden,), shares=BY_A_CARD, block_share=block_share, by_pixel=False)


def solid(*lights: Light, seen_by: tuple[str, ...] | None) -> Case:
    """One drop on a flat petal, lens and lamps solid; by the light of some of these or of the dome."""
    found = alone(110.0, *lights)
    return replace(found, scene=replace(found.scene, bodies=True), lights=seen_by)


def from_low_down(tilt_deg: float, *lights: Light) -> Case:
    """One drop on a petal that leans away from the camera, whose far rim is seen through the water."""
    found = alone(110.0, *lights)
    petal = replace(found.scene.petal, tilt_deg=tilt_deg, tilt_clock=12.0)
    return replace(found, scene=replace(found.scene, petal=petal), shares=OPPOSITE_RIM)


def flower_of_drops(*lights: Light, through: float = 0.0) -> Case:
    """Eight drops of 1.1 mm that touch one another and the one of 1.77 mm that they stand round."""
    turns = [2.0 * pi * k / 8 for k in range(8)]
    far = 0.555 / sin(pi / 8)  # neighbours 1.11 mm apart
    round_it = tuple(PlacedDrop(far * cos(turn), far * sin(turn), 1.1) for turn in turns)
    drops = Drops(
        count=0, placed=(PlacedDrop(0.0, 0.0, 1.77), *round_it), contact_angle_deg=100.0, gap_mm=0.0
    )
    set_up = simple(plain_petal(0.5, through), drops, field_mm=5.0)
    return seen(set_up, lights, shares=TOUCH, block_share=FINE_SHADOW, by_pixel=False)


def uneven_dome() -> Case:
    """A dome that is brighter above, from a camera that looks down."""
    found = alone(110.0)
    camera = replace(found.scene.camera, looks_down_deg=30.0)
    return replace(
        found, scene=replace(found.scene, ambient=Ambient(illuminance_lx=1.0, gradient=0.8), camera=camera)
    )


def of_file(name: str, light: bool) -> Case:
    """A scene file, its key or its dome, without the cuticle's gloss."""
    scene = without_gloss(load_scene(SCENES / name))
    shares = COARSE_MESH if name == "own-mesh.toml" else {}
    return Case(scene, (scene.lights[0].name,), shares=shares) if light else Case(scene, None)


SHORT = {
    "half drop, frontal light": alone(90.0, FRONTAL),
    "half drop, side light": alone(90.0, SIDE),
    "high drop, side light, dark petal": alone(110.0, SIDE, reflectance=0.3),
    "two neighbours, side light": replace(together(SIDE), block_share=SLIVER),
    "high drop, back light through the petal": alone(110.0, BACK, reflectance=0.4, through=0.3),
    "sixty drops, three-quarter light": sixty(plain_petal(0.5, width_mm=14.0), SOFT),
    "high drop, dome": alone(110.0),
}
LONG = {
    "two drops on a wrinkled petal, raking light": wrinkled(RAKING),
    "two drops on a wrinkled petal, raking light from behind": wrinkled(RAKING.moved(angle_deg=98.0)),
    "flat drop, frontal light": alone(60.0, FRONTAL),
    "flat drop, three-quarter light": alone(60.0, SOFT),
    "flat drop, side light": alone(60.0, SIDE),
    "half drop, three-quarter light": alone(90.0, SOFT),
    "half drop, three-quarter light at 1 o'clock": alone(90.0, SOFT.moved(clock=1.0)),
    "half drop, side light at 6 o'clock": alone(90.0, SIDE.moved(clock=6.0)),
    "half drop, three-quarter light, dark petal": alone(90.0, SOFT, reflectance=0.3),
    "half drop, three-quarter light, bright petal": alone(90.0, SOFT, reflectance=0.8),
    "high drop, frontal light": alone(110.0, FRONTAL),
    "high drop, three-quarter light": alone(110.0, SOFT),
    "high drop, side light, bright petal": alone(110.0, SIDE, reflectance=0.8),
    "higher drop, three-quarter light": alone(130.0, SOFT),
    "ball, frontal light": alone(150.0, FRONTAL),
    "ball, three-quarter light": alone(150.0, SOFT),
    "ball, side light": replace(alone(150.0, SIDE), shares=UNDER_A_BALL),
    "half drop, back light through the petal": alone(90.0, BACK, reflectance=0.4, through=0.3),
    "half drop, back light at 4 o'clock": alone(90.0, BACK.moved(clock=4.0), reflectance=0.4, through=0.3),
    "high drop, three-quarter light, thin petal": alone(110.0, SOFT, reflectance=0.4, through=0.3),
    "half drop, small hard flash": replace(
        alone(90.0, HARD), shares=SMALL_SHADOW, block_share=SLIVER, by_pixel=False
    ),
    "high drop, large diffuser near by": alone(110.0, SHEET),
    "high drop, two lights": alone(110.0, SOFT, SECOND),
    "high drop on a curved petal, a card's light alone": by_card((75.0, 0.0, -10.0), ONE_SIDED),
    "high drop on a curved petal, a card's light alone, more even": by_card((19.5, 39.0, 11.25), EVENLY_LIT),
    "high drop, out of focus": replace(blurred(SOFT), shares=SMALL_SHADOW),
    "two neighbours, three-quarter light": together(SOFT),
    "sixty drops, frontal light": sixty(plain_petal(0.5, width_mm=14.0), FRONTAL),
    "sixty drops, side light": sixty(plain_petal(0.5, width_mm=14.0), SIDE),
    "sixty drops on a curved petal, three-quarter light": replace(
        sixty(cupped(), SOFT), shares=CROWD_IN_A_ROW
    ),
    "sixty drops on a curved petal, side light": sixty(cupped(), SIDE),
    "sixty drops, dome": sixty(plain_petal(0.5, width_mm=14.0)),
    "six hundred drops, three-quarter light": replace(crowd(SOFT), shares=CROWD_IN_A_ROW),
    "six hundred drops, large diffuser near by": crowd(SHEET),
    "six hundred drops, dome": crowd(),
    "flat drop, dome": alone(60.0),
    "half drop, dome": alone(90.0),
    "ball, dome": alone(150.0),
    "high drop, dome, dark petal": alone(110.0, reflectance=0.3),
    "high drop, dome, bright petal": alone(110.0, reflectance=0.8),
    "high drop, dome brighter above": uneven_dome(),
    "two neighbours, dome": together(),
}
NEAR_FACE = lamp(angle_deg=50.0, clock=10.0, distance_mm=60.0, width_mm=100.0, height_mm=80.0)
BEHIND_THE_LENS = lamp(angle_deg=20.0, clock=3.0, distance_mm=230.0, width_mm=60.0, height_mm=60.0)
BEHIND_A_LAMP = SOFT.moved(angle_deg=45.0, clock=3.0, distance_mm=260.0, width_mm=80.0, height_mm=80.0)
BEFORE_IT = replace(
    lamp(angle_deg=52.0, clock=3.0, distance_mm=110.0, width_mm=30.0, height_mm=30.0), name="before it"
)
BODIES = {
    "high drop, dome behind the lens and a face near by": solid(NEAR_FACE, seen_by=None),
    "high drop, dome behind the lens": solid(seen_by=None),
    "high drop, lamp at 20 degrees partly behind the lens": solid(BEHIND_THE_LENS, seen_by=("lamp",)),
    "high drop, lamp partly behind another lamp": solid(BEHIND_A_LAMP, BEFORE_IT, seen_by=("lamp",)),
}
LONG |= BODIES
TOUCHING = {
    "eight touching drops round one, side light": flower_of_drops(SIDE),
    "eight touching drops round one, back light": flower_of_drops(BACK, through=0.3),
}
LONG |= TOUCHING
LOW = lamp(angle_deg=115.0, clock=12.0, distance_mm=150.0, width_mm=60.0, height_mm=60.0)
LONG["high drop from low down, light 20 degrees above the petal from behind"] = from_low_down(45.0, LOW)
FILES = {
    f"{path.name}, {'its key' if light else 'its dome'}": of_file(path.name, light)
    for path in sorted(SCENES.glob("*.toml"))
    for light in (True, False)
}
