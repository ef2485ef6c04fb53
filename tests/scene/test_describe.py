"""The set in numbers and warnings."""

import json

import numpy as np
import pytest

from lightsim.optics.water import bond_number
from lightsim.scene.build import build
from lightsim.scene.describe import describe, drops_in_frame, outline_seen, petal_frame_share, warnings
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Drops,
    Focus,
    Light,
    Petal,
    PlacedDrop,
    Scene,
)

FLAT = Petal(
    form="flat", outline="rectangle", width_mm=40, length_mm=40, mesh_spacing_mm=1.0, veins=0, relief_mm=0.0
)


def scene(**keys):
    return Scene(**({"petal": FLAT, "drops": Drops(count=40, diameter_mm=0.6)} | keys))


def described(**keys):
    made = scene(**keys)
    return describe(made, build(made))


def warned(**keys):
    made = scene(**keys)
    return warnings(made, build(made))


def test_a_plain_set_has_no_warnings():
    assert warned() == []


def test_the_summary_is_plain_data():
    found = described(cards=(Card(),), backdrop=Backdrop(), about="x")
    assert json.loads(json.dumps(found)) == found


def test_lights_by_angle_clock_and_distance():
    lights = (
        Light(name="a", guide_number_m=36.0, angle_deg=75.0, clock=10.0, distance_mm=200.0),
        Light(name="b", kind="continuous", illuminance_lx=500.0, position_mm=(0.0, 300.0, 0.0)),
    )
    a, b = described(lights=lights)["lights"]
    assert (a["angle_deg"], a["clock"], a["distance_mm"]) == (75.0, 10.0, 200.0)
    # ISO 1230 and ISO 2720: guide number 36 gives 3240 cd s, at 0.2 m 81 000 lx s
    assert a["output_cd_s"] == pytest.approx(3240.0)
    assert a["exposure_lx_s"] == pytest.approx(81_000.0)
    assert (b["angle_deg"], b["clock"], b["distance_mm"]) == (90.0, 12.0, 300.0)
    assert b["illuminance_lx"] == pytest.approx(500.0)
    assert b["power"] is None


def test_the_camera_in_numbers():
    camera = described(camera=Camera(field_width_mm=36.0, f_number=8.0))["camera"]
    assert (camera["field_width_mm"], camera["field_height_mm"]) == (36.0, 24.0)
    assert (camera["width_px"], camera["height_px"]) == (960, 640)
    assert camera["effective_f_number"] == 16.0
    # depth of field nearly 2 N_eff c / m^2 with c = diagonal / 1500: common practice, no source
    assert camera["depth_of_field_mm"] == pytest.approx(2 * 16.0 * np.hypot(36, 24) / 1500, rel=1e-4)
    assert camera["blur_mm_per_mm"] == pytest.approx(1 / 16.0)


def test_drops_in_numbers():
    found = described(drops=Drops(count=40, placed=(PlacedDrop(0.0, 0.0, 2.0),)))["drops"]
    assert found["placed"] == found["wanted"] == 41
    assert found["diameter_most_mm"] >= 2.0
    assert found["bond_number_most"] == pytest.approx(float(bond_number(found["diameter_most_mm"] / 2)))
    assert 0 < found["in_frame"] < 41
    assert described(drops=Drops(count=0))["drops"]["placed"] == 0


def test_drops_in_the_frame_are_those_that_perspective_puts_there():
    made = build(scene(petal=FLAT, camera=Camera(focus=Focus(on="offset", offset_mm=-30.0))))
    # the petal stands 30 mm before the plane of sharp focus, 90 mm from the pupil: it looks 4/3 as large
    shown = made.drops.centre[:, :2] * 120.0 / (120.0 - made.drops.centre[:, 2:])
    expected = (np.abs(shown) <= [12.0, 8.0]).all(axis=1)
    np.testing.assert_array_equal(drops_in_frame(made), expected)
    assert 0 < expected.sum() < len(expected)


@pytest.mark.parametrize(("width", "share"), [(40.0, 1.0), (12.0, 0.5), (6.0, 0.25)])
def test_the_share_of_the_frame_that_the_petal_fills(width, share):
    petal = Petal(form="flat", outline="rectangle", width_mm=width, length_mm=40, mesh_spacing_mm=1.0)
    made = build(scene(petal=petal, drops=Drops(count=0)))
    assert petal_frame_share(outline_seen(made), made.camera) == pytest.approx(share, abs=0.03)


def test_a_petal_nearer_to_the_lens_fills_more():
    petal = Petal(form="flat", outline="rectangle", width_mm=12, length_mm=40, mesh_spacing_mm=1.0)
    made = build(
        scene(petal=petal, drops=Drops(count=0), camera=Camera(focus=Focus(on="offset", offset_mm=-30.0)))
    )
    assert petal_frame_share(outline_seen(made), made.camera) == pytest.approx(0.5 * 4 / 3, abs=0.03)


def test_the_focus_in_words():
    assert described(camera=Camera(focus=Focus(on="drop", drop=3)))["focus"]["drop"] == 3
    assert described()["focus"] == {"on": "petal", "drop": None, "offset_mm": 0.0}


def test_warning_of_drops_that_found_no_place():
    (sentence,) = warned(drops=Drops(count=5000, diameter_mm=1.5, diameter_spread=1.0))
    assert "of 5000 drops found a place on the petal; fewer or smaller drops would all fit" in sentence


def test_warning_of_flattened_drops():
    # Bond number 0.1 is reached at a radius of 0.862 mm: capillary length 2.7259 mm at 20 C (de Gennes,
    # Brochard-Wyart and Quere 2004, ch. 2) times the root of 0.1
    hand = (PlacedDrop(0.0, 0.0, 2.2), PlacedDrop(5.0, 0.0, 1.70))
    assert warned(drops=Drops(count=0, placed=hand)) == [
        "1 of 2 drops is over 1.72 mm across, where gravity flattens a drop (Bond number up to 0.16, it "
        "shows above 0.1); here they stay parts of spheres"
    ]


def test_warning_of_an_empty_frame():
    hand = (PlacedDrop(18.0, 18.0, 1.0),)
    assert warned(drops=Drops(count=0, placed=hand)) == ["no drop is in the frame"]
    narrow = Petal(form="flat", outline="rectangle", width_mm=6, length_mm=40, mesh_spacing_mm=1.0)
    (sentence,) = warned(petal=narrow, drops=Drops(count=0))
    assert sentence.startswith("the petal fills 2")


def test_warning_of_a_light_in_the_petal_or_in_the_picture():
    touching = Light(guide_number_m=9.0, position_mm=(15.0, 0.0, 0.1), aim_mm=(0.0, 0.0, 90.0), width_mm=4.0)
    assert 'light "flash" touches the petal' in warned(lights=(touching,))
    narrow = Petal(form="flat", outline="rectangle", width_mm=13, length_mm=40, mesh_spacing_mm=1.0)
    behind = Light(guide_number_m=9.0, angle_deg=172.0, clock=3.0, distance_mm=150.0)
    assert warned(petal=narrow, lights=(behind,)) == ['light "flash" may itself be seen in the picture']
    assert warned(lights=(behind,)) == []  # the petal hides it


def test_a_set_with_ambient_light_only():
    found = described(lights=(), ambient=Ambient(illuminance_lx=300.0))
    assert found["lights"] == []
    assert found["ambient"]["illuminance_lx"] == 300.0
