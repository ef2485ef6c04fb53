"""Things that stand in one another's way, and things that only seem to."""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import SceneError
from lightsim.scene.build import build
from lightsim.scene.camera import camera_geometry, in_view
from lightsim.scene.clash import blocks_view
from lightsim.scene.faces import light_face
from lightsim.scene.records import Backdrop, Camera, Card, Drops, Focus, Lens, Light, Petal, PlacedDrop, Scene

PETAL = Petal(form="flat", mesh_spacing_mm=1.0, veins=0, relief_mm=0.0, tilt_deg=20.0)
DROPS = Drops(count=0, placed=(PlacedDrop(0.0, 0.0, 1.6),))
CAMERA = Camera(field_width_mm=24.0, working_distance_mm=120.0, focus=Focus(on="petal"))


def made(light=None, **keys):
    lights = (Light(guide_number_m=20.0) if light is None else light,)
    return build(Scene(**({"petal": PETAL, "drops": DROPS, "camera": CAMERA, "lights": lights} | keys)))


def sentences(light=None, **keys):
    with pytest.raises(SceneError) as caught:
        made(light, **keys)
    return caught.value.problems


def flash(**keys):
    return Light(guide_number_m=20.0, **keys)


@pytest.mark.parametrize(
    "light",
    [
        flash(angle_deg=0.0, distance_mm=250.0),  # behind the front of the lens
        flash(angle_deg=12.0, distance_mm=160.0),
        flash(angle_deg=25.0, distance_mm=100.0, width_mm=20.0, height_mm=20.0),  # beside the view
        flash(angle_deg=90.0, distance_mm=60.0),
        flash(angle_deg=180.0, distance_mm=200.0),  # behind the petal
        flash(angle_deg=150.0, distance_mm=80.0),
    ],
)
def test_places_a_light_may_have(light):
    assert len(made(light).lights) == 1


@pytest.mark.parametrize(
    "light",
    [
        flash(angle_deg=0.0, distance_mm=100.0),
        flash(angle_deg=12.0, distance_mm=100.0),  # its edge reaches into the view
        flash(angle_deg=0.0, distance_mm=60.0, width_mm=1.0, height_mm=1.0),  # small against the view
        flash(angle_deg=20.0, distance_mm=60.0, width_mm=4000.0, height_mm=4000.0),  # large against it
        flash(shape="round", angle_deg=5.0, distance_mm=110.0, width_mm=40.0),
    ],
)
def test_a_light_between_the_lens_and_what_it_sees(light):
    assert sentences(light) == [
        'light[0]: found "flash" between the lens and what it sees, allowed a place out of the view: farther '
        "off the axis, farther away than the lens (120 mm), or smaller"
    ]


def test_a_light_inside_a_drop():
    small = flash(position_mm=(0.2, 0.0, 0.4), aim_mm=(5.0, 0.0, 0.0), width_mm=0.1, height_mm=0.1)
    found = sentences(small)
    assert (
        found[0]
        == 'light[0]: found "flash" inside drop 0 (1.6 mm across), allowed a place clear of the drops'
    )


def test_a_light_behind_the_backdrop():
    wall = Backdrop(distance_mm=150.0)
    expected = [
        'light[0]: found "flash" behind the backdrop or through it, allowed a place before it '
        "(backdrop.distance_mm is 150)"
    ]
    assert sentences(flash(angle_deg=170.0, distance_mm=250.0), backdrop=wall) == expected
    assert sentences(flash(angle_deg=130.0, distance_mm=220.0), backdrop=wall) == expected  # one edge
    made(flash(angle_deg=130.0, distance_mm=150.0), backdrop=wall)


def test_a_card_is_held_to_the_same():
    found = sentences(cards=(Card(name="white", angle_deg=10.0, distance_mm=80.0),))
    assert found[0].startswith('card[0]: found "white" between the lens and what it sees')


def test_the_lens_does_not_touch_the_subject():
    near = Camera(field_width_mm=24.0, working_distance_mm=1.2, focus=Focus(on="petal"))
    (found,) = sentences(camera=near)
    assert found.startswith(
        "camera.working_distance_mm: found 1.2, but from where it is sharp the subject reaches "
    )
    assert found.endswith(" mm toward the lens, allowed more than that")


def test_what_brings_the_lens_to_the_subject_is_named_with_what_would_do():
    # 100 mm at 1:1, 20 mm free, +60 D: 1/(1/20 + 60/1000) = 9.1 mm; a drop 12 mm across, sharp 3 mm off the
    # petal, reaches farther, and +x with 1/(1/20 + x/1000) above its reach would clear it.
    drop = Drops(count=0, placed=(PlacedDrop(0.0, 0.0, 14.0),))
    lens = Lens(native_working_distance_mm=20.0, close_up_dioptres=(60.0,))
    camera = Camera(focus=Focus(on="petal"))
    (found,) = sentences(lens=lens, camera=camera, drops=drop)
    assert found.startswith(
        "lens.close_up_dioptres: found +60, which leaves 9.1 mm free before the lens, but from where it is "
        "sharp the subject reaches "
    )
    allowed = float(found.rpartition("+")[2])
    made(lens=replace(lens, close_up_dioptres=(allowed,)), camera=camera, drops=drop)
    more = replace(lens, close_up_dioptres=(allowed + 0.2,))
    assert "close_up_dioptres" in sentences(lens=more, camera=camera, drops=drop)[0]


def test_the_petal_stands_before_the_backdrop():
    (found,) = sentences(backdrop=Backdrop(distance_mm=3.0), light=flash(angle_deg=45.0))
    assert found == (
        "backdrop.distance_mm: found 3, but from where it is sharp the petal reaches 6.8 mm back, allowed "
        "more than that"
    )


def test_everything_in_the_way_is_told_at_once():
    lights = (
        flash(name="a", angle_deg=0.0, distance_mm=50.0),
        flash(name="b", angle_deg=175.0, distance_mm=300.0),
    )
    with pytest.raises(SceneError) as caught:
        build(
            Scene(
                petal=PETAL, drops=DROPS, camera=CAMERA, lights=lights, backdrop=Backdrop(distance_mm=100.0)
            )
        )
    assert [sentence.split(":")[0] for sentence in caught.value.problems] == ["light[0]", "light[1]"]


def test_the_view_against_rays_from_the_lens():
    camera = camera_geometry(CAMERA)
    random = np.random.default_rng(6)
    count = 4000
    field = np.column_stack([random.uniform(-12, 12, count), random.uniform(-8, 8, count), np.zeros(count)])
    turn, out = (
        random.uniform(0, 2 * np.pi, count),
        np.sqrt(random.uniform(0, 1, count)) * camera.pupil_radius_mm,
    )
    lens = np.column_stack([out * np.cos(turn), out * np.sin(turn), np.full(count, camera.pupil_distance_mm)])
    for share in (-2.0, -0.3, 0.0, 0.4, 0.9):
        assert in_view(camera, field + share * (lens - field)).all()
    assert not in_view(
        camera, np.array([[12.1, 0.0, 0.0], [0.0, 8.1, 0.0], [0.0, 0.0, 121.0], [9.0, 0.0, 60.0]])
    ).any()


def test_blocking_agrees_with_rays_from_the_lens():
    camera = camera_geometry(CAMERA)
    random = np.random.default_rng(7)
    count = 6000
    field = np.column_stack([random.uniform(-12, 12, count), random.uniform(-8, 8, count), np.zeros(count)])
    turn, out = (
        random.uniform(0, 2 * np.pi, count),
        np.sqrt(random.uniform(0, 1, count)) * camera.pupil_radius_mm,
    )
    along = np.column_stack([out * np.cos(turn), out * np.sin(turn), np.full(count, 120.0)]) - field
    agreed = blocked = 0
    for angle, distance, size in random.uniform([0, 20, 2], [60, 160, 60], (150, 3)):
        face = light_face(
            flash(angle_deg=angle, clock=4.0, distance_mm=distance, width_mm=size, height_mm=size)
        )
        share = (face.centre - field) @ face.out / (along @ face.out)
        offset = field + share[:, None] * along - face.centre
        hit = (np.abs(offset @ face.right) < size / 2) & (np.abs(offset @ face.up) < size / 2)
        hit &= (share > 0) & (share < 1)
        # rays drawn at random miss what only touches the border of the view
        agreed += bool(hit.any()) == blocks_view(face, camera)
        blocked += bool(hit.any())
        assert blocks_view(face, camera) or not hit.any()
    assert 30 < blocked < 120
    assert agreed > 140
