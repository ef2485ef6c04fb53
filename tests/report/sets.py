"""Sets for the tests of the plan: many lights, tilted cameras, things near the axis and far away."""

from __future__ import annotations

from lightsim.report.setup.plan_records import Caution, SetupPlan, camera_place, places
from lightsim.report.setup.solid.whole import solids
from lightsim.scene.build import build
from lightsim.scene.records import Backdrop, Camera, Card, Diffuser, Drops, Lens, Light, Petal, Scene

PETAL = Petal(form="flat", mesh_spacing_mm=2.0, relief_mm=0.0)
TRAIN = Lens(extension_tubes_mm=(12.0, 36.0), close_up_dioptres=(2.0,), native_working_distance_mm=140.0)


def a_set(looks_down_deg: float = 30.0, lens: Lens | None = None, **parts) -> Scene:
    """One flash, one card, a backdrop, four drops; what is named is put in its place."""
    parts.setdefault("lights", (flash("flash", 75.0, 10.0),))
    parts.setdefault("cards", (Card(angle_deg=70.0, clock=4.0, distance_mm=130.0),))
    parts.setdefault("backdrop", Backdrop(distance_mm=300.0))
    parts.setdefault("drops", Drops(count=4, diameter_mm=2.0))
    return Scene(petal=PETAL, camera=Camera(looks_down_deg=looks_down_deg), lens=lens, **parts)


def flash(name: str, angle_deg: float, clock: float, distance_mm: float = 200.0, **more) -> Light:
    """A flash at a place."""
    return Light(
        name=name, angle_deg=angle_deg, clock=clock, distance_mm=distance_mm, guide_number_m=20.0, **more
    )


def lamp(name: str, angle_deg: float, clock: float, distance_mm: float = 250.0, **more) -> Light:
    """A continuous light at a place."""
    return Light(
        name=name,
        kind="continuous",
        angle_deg=angle_deg,
        clock=clock,
        distance_mm=distance_mm,
        illuminance_lx=500.0,
        **more,
    )


def hard() -> Scene:
    """Straight down, three lights, one from behind and one beside the lens, two cards, tubes."""
    return a_set(
        90.0,
        TRAIN,
        lights=(
            flash("key", 70.0, 10.0, 220.0, diffuser=Diffuser()),
            flash("back", 150.0, 1.0, 240.0),
            lamp("beside the lens", 28.0, 7.5, 200.0, shape="round", width_mm=50.0),
        ),
        cards=(
            Card("left card", angle_deg=95.0, clock=8.0, distance_mm=130.0),
            Card("right card", angle_deg=65.0, clock=4.0, distance_mm=120.0),
        ),
    )


def crowd() -> Scene:
    """Nine lights and three cards round the flower."""
    lights = tuple(flash(f"flash {n}", 40.0 + 13.0 * n, 1.0 + 1.3 * n, 220.0 + 12.0 * n) for n in range(9))
    cards = tuple(
        Card(f"card {n}", 60.0, 60.0, 80.0 + 20.0 * n, 3.0 + 4.0 * n, 140.0 + 20.0 * n) for n in range(3)
    )
    return a_set(20.0, TRAIN, lights=lights, cards=cards)


def far_away() -> Scene:
    """A window two metres away and the sun."""
    window = lamp("window", 70.0, 9.5, 2000.0, width_mm=1000.0, height_mm=1300.0)
    return a_set(lights=(window, lamp("sun", 40.0, 1.0, 1e6, width_mm=9000.0, height_mm=9000.0)))


def plan_of(scene: Scene, cautions: tuple[Caution, ...] = ()) -> tuple[SetupPlan, object, object]:
    """Plan, solids and stage of a scene, with a few settings in words."""
    stage = build(scene)
    shapes = solids(scene, stage)
    plan = SetupPlan(
        name="the-set",
        about="A set for a test, with $igns that mean nothing, and more words than fit on a single line.",
        camera=camera_place(scene, stage),
        places=tuple(places(scene, stage)),
        subject_above_table_mm=shapes.subject_above_table_mm,
        settings=(("lens", "100 mm"), ("exposure", "f/11, 1/125 s, ISO 100"), ("room", "150 lx, 4000 K")),
        cautions=cautions,
        last_word="Ask those who know." if cautions else "",
    )
    return plan, shapes, stage
