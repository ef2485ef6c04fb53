"""Scene files: what loads, and the exact sentence for what does not."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import SceneError
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.read import load_scene, scene_from_dict
from lightsim.scene.records import Ambient, Backdrop, Exposure, Light, Petal, Scene

LIGHT = {"guide_number_m": 20.0}


def problems(table):
    with pytest.raises(SceneError) as caught:
        scene_from_dict(table)
    return caught.value.problems


def only(table):
    found = problems(table)
    assert len(found) == 1, found
    return found[0]


def one_light(**keys):
    return only({"light": [LIGHT | keys]})


def test_an_empty_file_is_the_default_set_without_a_light(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("")
    scene = load_scene(path)
    assert scene == Scene(lights=())
    assert scene.path == path


def test_a_whole_file_loads(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(
        'about = "x"\n[petal]\nform = "flat"\nwidth_mm = 10\n[drops]\ncount = 3\n'
        "[[drops.placed]]\nx_mm = 1\ny_mm = -2\ndiameter_mm = 0.5\n[camera.focus]\non = 'drop'\n"
        '[[light]]\nname = "a"\nguide_number_m = 12\npower = "1/16"\n'
        '[[light]]\nname = "b"\nkind = "continuous"\nilluminance_lx = 300\n'
        "[[card]]\nreflectance = 0.5\n[ambient]\nilluminance_lx = 0\n[backdrop]\ndistance_mm = 90\n"
    )
    scene = load_scene(path)
    assert scene.petal == Petal(form="flat", width_mm=10.0)
    assert scene.drops.placed[0].y_mm == -2.0
    assert scene.camera.focus.on == "drop"
    assert [light.name for light in scene.lights] == ["a", "b"]
    assert scene.lights[0].power == 0.0625
    assert scene.cards[0].reflectance == 0.5
    assert scene.ambient == Ambient(illuminance_lx=0.0)
    assert scene.backdrop == Backdrop(distance_mm=90.0)


def test_a_mesh_file_is_looked_for_beside_the_scene_file(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text('[petal]\nform = "mesh"\nfile = "meshes/rose.ply"\n')
    assert load_scene(path).petal.file == tmp_path / "meshes" / "rose.ply"
    assert str(scene_from_dict({"petal": {"form": "mesh", "file": "rose.ply"}}).petal.file) == "rose.ply"


# ISO 516: the marked shutter times stand for exact powers of two of a second. The thirds between them
# (1/100, 1/160): common practice, no source.
@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ("1/15", 1 / 16),
        ("1/30", 1 / 32),
        ("1/60", 1 / 64),
        ("1/125", 1 / 128),
        ("1/250", 1 / 256),
        ("1/500", 1 / 512),
        ("1/1000", 1 / 1024),
        ("1/100", 2 ** (-20 / 3)),
        ("1/160", 2 ** (-22 / 3)),
        ("1/125 s", 1 / 128),
        ("2", 2.0),
        (0.01, 0.01),
        (1, 1.0),
    ],
)
def test_shutter_times(written, seconds):
    scene = scene_from_dict({"exposure": {"shutter_s": written}})
    assert scene.exposure.shutter_s == pytest.approx(seconds, rel=1e-15)


@pytest.mark.parametrize(
    ("written", "share"),
    [
        (1, 1.0),
        (0.25, 0.25),
        ("1/16", 1 / 16),
        ("1/1", 1.0),
        ("1/128", 1 / 128),
        ("1/16 + 1/3", 2 ** (-11 / 3)),
    ],
)
def test_power_fractions(written, share):
    scene = scene_from_dict({"light": [LIGHT | {"power": written}]})
    assert scene.lights[0].power == pytest.approx(share, rel=1e-15)


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ({"petal": {"curl": 3}}, "petal.curl: found 3, allowed a number from -1 to 1"),
        ({"petal": {"curl": "much"}}, 'petal.curl: found "much", allowed a number from -1 to 1'),
        ({"petal": {"curl": math.nan}}, "petal.curl: found nan, allowed a number from -1 to 1"),
        ({"petal": {"curl": math.inf}}, "petal.curl: found inf, allowed a number from -1 to 1"),
        ({"petal": {"curl": True}}, "petal.curl: found true, allowed a number from -1 to 1"),
        ({"petal": {"curl": 10**400}}, f"petal.curl: found 1{'0' * 56}..., allowed a number from -1 to 1"),
        ({"petal": {"veins": 2.5}}, "petal.veins: found 2.5, allowed a whole number from 0 to 60"),
        (
            {"petal": {"form": "disc"}},
            'petal.form: found "disc", allowed "flat", "cupped", "ruffled", "saddle" or "mesh"',
        ),
        (
            {"petal": {"reflectance_tip": [0.5, 0.5]}},
            "petal.reflectance_tip: found [0.5, 0.5], allowed a list of 3 numbers from 0 to 1",
        ),
        (
            {"petal": {"reflectance_tip": [0.5, 0.5, 1.5]}},
            "petal.reflectance_tip: found [0.5, 0.5, 1.5], allowed a list of 3 numbers from 0 to 1",
        ),
        ({"exposure": {"auto": 1}}, "exposure.auto: found 1, allowed true or false"),
        (
            {"exposure": {"shutter_s": "1/0"}},
            'exposure.shutter_s: found "1/0", allowed a number from 1e-06 to 3600 s, or text such as "1/125"',
        ),
        (
            {"exposure": {"shutter_s": "quick"}},
            'exposure.shutter_s: found "quick", allowed a number from 1e-06 to 3600 s, or text such as '
            '"1/125"',
        ),
        (
            {"exposure": {"white_balance": "lamp"}},
            'exposure.white_balance: found "lamp", allowed "key", "ambient" or a colour temperature from '
            "1000 to 25000 K",
        ),
        ({"about": 3}, "about: found 3, allowed text in quotes"),
        ({"drops": {"placed": [{"x_mm": 0, "y_mm": 0}]}},
         "drops.placed[0].diameter_mm: found nothing, allowed a number from 0.01 to 20 mm"),
        ({"petal": 3}, "petal: found 3, allowed one table headed [petal]"),
        ({"ambient": [{}]}, "ambient: found a list of tables, allowed one table headed [ambient]"),
        ({"light": {}}, "light: found a table, allowed tables headed [[light]]"),
        ({"drops": {"placed": 1}}, "drops.placed: found 1, allowed tables headed [[drops.placed]]"),
        ({"camera": {"focus": "drop"}},
         'camera.focus: found "drop", allowed one table headed [camera.focus]'),
        ({"petal": {"curls": 0.3}},
         'petal.curls: found an unknown key, allowed "curl" (the nearest of the known ones)'),
        ({"petals": {}}, 'petals: found an unknown key, allowed "petal" (the nearest of the known ones)'),
        ({"petal": {"iso": 100}}, "petal.iso: found an unknown key, allowed in [exposure]"),
        ({"drops": {"clock": 3}}, "drops.clock: found an unknown key, allowed in [[light]], [[card]] or "
         "[motion]"),
        ({"ambient": {"zzz": 3}},
         "ambient.zzz: found an unknown key, allowed illuminance_lx, ev100, gradient or "
         "colour_temperature_k"),
        ({"petal": {"mesh_spacing_mm": 0.01}},
         "petal.mesh_spacing_mm: found 0.01 mm, which makes 26,334,150 triangles, allowed a spacing that "
         "makes at most 8,000,000"),
        ({"petal": {"file": "a.ply"}},
         'petal.file: found "a.ply" with form = "cupped", allowed only with form = "mesh"'),
        ({"petal": {"form": "mesh"}},
         'petal.file: found nothing, allowed with form = "mesh" the name of a mesh file'),
        ({"petal": {"reflectance_foot": [0.8, 0.5, 0.3]}},
         "petal.reflectance_foot: found 0.8 in red with 0.3 in transmittance_foot, allowed a sum of at most "
         "1"),
        ({"ambient": {"illuminance_lx": 0}},
         "light: found no light, allowed at least one [[light]], or an ambient.illuminance_lx above 0"),
    ],
)  # fmt: skip
def test_the_sentence_for_each_kind_of_mistake(table, sentence):
    assert only(table) == sentence


def test_the_sentences_about_lights():
    assert one_light(angle_deg=999) == "light[0].angle_deg: found 999, allowed a number from 0 to 180 degrees"
    assert one_light(distance_mm=0) == (
        "light[0].distance_mm: found 0, allowed a number above 0, up to 1000000 mm"
    )
    assert one_light(power="1/0") == (
        'light[0].power: found "1/0", allowed a number from 0.0005 to 1, or text such as "1/16"'
    )
    assert one_light(name="a\nb") == (
        'light[0].name: found "a\\nb", allowed 1 to 60 printable characters in quotes'
    )
    assert one_light(intensity=3) == (
        "light[0]: found guide_number_m and intensity, allowed exactly one of guide_number_m, intensity, "
        "illuminance_lx or ev100"
    )
    assert only({"light": [{}]}) == (
        "light[0]: found no output, allowed exactly one of guide_number_m, intensity, illuminance_lx or ev100"
    )
    assert one_light(kind="continuous") == (
        "light[0].guide_number_m: found 20 for a continuous light, allowed for a flash only"
    )
    assert only({"light": [{"illuminance_lx": 9}]}) == (
        "light[0].illuminance_lx: found 9 for a flash, allowed for a continuous light only"
    )
    assert only({"light": [{"ev100": 9}]}) == (
        "light[0].ev100: found 9 for a flash, allowed for a continuous light only"
    )
    assert only({"light": [{"kind": "continuous", "intensity": 9, "power": "1/2"}]}) == (
        "light[0].power: found 0.5 for a continuous light, allowed for a flash only"
    )
    assert one_light(aim_mm=[0, 0, 50], position_mm=[0, 0, 50]) == (
        "light[0].aim_mm: found [0, 0, 50], where its own face stands, allowed any other point"
    )


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ({"lens": {"extension_tubes_mm": [12, -3]}},
         "lens.extension_tubes_mm: found [12, -3], allowed a list of numbers from 0 to 2000 mm"),
        ({"lens": {"extension_tubes_mm": "long"}},
         "lens.extension_tubes_mm: found \"long\", allowed a list of numbers from 0 to 2000 mm"),
        ({"camera": {"f_number": 0.3}},
         "camera.f_number: found 0.3, allowed a number from 0.5 to 1000, or text such as \"f/8\""),
        ({"camera": {"f_number": 2}, "lens": {"widest_f_number": 2.8}},
         "camera.f_number: found 2, allowed 2.8 (the widest) or more"),
        ({"camera": {"field_width_mm": 20}, "lens": {}},
         "camera.field_width_mm: found 20 beside a [lens] section, allowed without one only"),
        ({"camera": {"working_distance_mm": 90}, "lens": {}},
         "camera.working_distance_mm: found 90 beside a [lens] section, allowed without one only"),
        ({"lens": {"native_magnification": 0}},
         "lens.native_magnification: found 0 without tubes, close-up lens or a second lens, "
         "allowed more than 0"),
        ({"lens": {"native_working_distance_mm": 30, "extension_tubes_mm": [200]}},
         "lens.extension_tubes_mm: found a length of 200 mm, with which the subject would be inside the "
         "lens, allowed up to 42.8 mm"),
        ({"lens": 3}, "lens: found 3, allowed one table headed [lens]"),
        ({"exposure": {"iso": 0}}, "exposure.iso: found 0, allowed a number from 1 to 10000000"),
        ({"camera": {"sensor_px": [6000.5, 4000]}},
         "camera.sensor_px: found [6000.5, 4000], allowed a list of 2 whole numbers from 16 to 100000 "
         "pixels"),
        ({"light": [LIGHT | {"power": "2/1"}]},
         'light[0].power: found "2/1", allowed a number from 0.0005 to 1, or text such as "1/16"'),
        ({"light": [LIGHT | {"diffuser": {"loss_stops": -1}}]},
         "light[0].diffuser.loss_stops: found -1, allowed a number from 0 to 10 stops"),
        ({"light": [LIGHT | {"diffuser": "white"}]},
         'light[0].diffuser: found "white", allowed one table headed [light.diffuser]'),
        ({"ambient": {"illuminance_lx": 100, "ev100": 5}},
         "ambient.ev100: found 5 beside illuminance_lx, allowed only one of the two"),
        ({"motion": {"speed_mm_s": -1}},
         "motion.speed_mm_s: found -1, allowed a number from 0 to 10000 mm/s"),
        ({"noise": {"full_well_e": 0}},
         "noise.full_well_e: found 0, allowed a number from 100 to 10000000 electrons"),
    ],
)  # fmt: skip
def test_the_sentences_about_lens_exposure_and_movement(table, sentence):
    assert only(table) == sentence


def test_the_sentences_about_names_of_lights():
    def named(*names):
        return only({"light": [LIGHT | {"name": name} for name in names]})

    assert named("a", "b", "a") == 'light[2].name: found "a" as in light[0], allowed a name of its own'
    assert named("a", "key") == (
        'light[1].name: found "key", allowed for the first light only (it means that one)'
    )
    assert named("ambient") == (
        'light[0].name: found "ambient", allowed any other name (it means the room\'s light)'
    )
    scene_from_dict({"light": [LIGHT | {"name": "key"}], "exposure": {"white_balance": "key"}})


def test_all_problems_are_told_at_once_and_none_twice():
    found = problems(
        {
            "petal": {"curl": 9, "colour": "red", "reflectance_tip": [2, 0, 0]},
            "drops": {"count": -1},
            "light": [{"angle_deg": 999}, {"name": "flash", "guide_number_m": -1}],
            "lamp": {},
        }
    )
    assert [sentence.split(":")[0] for sentence in found] == [
        "lamp",
        "petal.colour",
        "petal.curl",
        "petal.reflectance_tip",
        "drops.count",
        "light[0].angle_deg",
        "light[1].guide_number_m",
        "light[0]",
        "light[1].name",
    ]


def test_the_file_is_named_before_every_sentence(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("[petal]\ncurl = 9\nveins = -1\n")
    with pytest.raises(SceneError) as caught:
        load_scene(path)
    assert str(caught.value).split("\n") == [
        f"{path}: petal.curl: found 9, allowed a number from -1 to 1",
        f"{path}: petal.veins: found -1, allowed a whole number from 0 to 60",
    ]


def sentence_for(path):
    with pytest.raises(SceneError) as caught:
        load_scene(path)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("[petal]\ncurl = = 3\n", "line 2, column 8"),
        ("[petal\n", "line 1, column 7"),
        ("[petal]\ncurl = 1\ncurl = 2\n", "line 3, column 9"),
        ('about = "open', "line 1, column 14"),
        ("[petal]\nreflectance = [1,\n2", "line 3, column 2"),
    ],
)
def test_broken_toml_is_told_with_line_and_column(tmp_path, text, place):
    path = tmp_path / "a.toml"
    path.write_text(text)
    sentence = sentence_for(path)
    assert sentence.startswith(f"{path}: {place}: found broken TOML (")
    assert sentence.endswith("), allowed is TOML such as key = 1.5")
    assert "\n" not in sentence


def test_files_that_are_no_scene_files(tmp_path):
    assert sentence_for(tmp_path / "no.toml") == (
        f"{tmp_path / 'no.toml'}: found no such file, allowed a scene file (TOML)"
    )
    assert sentence_for(tmp_path) == f"{tmp_path}: found a folder, allowed a scene file (TOML)"
    binary = tmp_path / "b.toml"
    binary.write_bytes(b'about = "x"\n\xff\xfe\n')
    assert sentence_for(binary) == (
        f"{binary}: line 2: found bytes that are not UTF-8 text, allowed a scene file (TOML) in UTF-8"
    )
    inside = binary / "c.toml"
    assert sentence_for(inside) == (
        f"{inside}: found a file that cannot be read (Not a directory), allowed a scene file (TOML)"
    )


def test_a_mark_before_the_text_and_other_line_ends_do_no_harm(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf[petal]\r\ncurl = 0.5\r\n")
    assert load_scene(path).petal.curl == 0.5


def test_a_scene_made_in_python_is_held_to_the_same_rules():
    scene = Scene(petal=Petal(curl=9.0), lights=(Light(),), exposure=Exposure(white_balance="x"))
    with pytest.raises(SceneError) as caught:
        check_scene(scene)
    assert [sentence.split(":")[0] for sentence in caught.value.problems] == [
        "petal.curl",
        "light[0]",
        "exposure.white_balance",
    ]
    with pytest.raises(SceneError, match="petal: found nothing, allowed one table"):
        check_scene(replace(Scene(), petal=None))


def test_a_scene_made_in_python_comes_back_with_plain_values():
    petal = Petal(width_mm=np.float32(20), reflectance_tip=[0.1, 0.2, 0.3], veins=np.int64(3))
    checked = check_scene(Scene(petal=petal, lights=[Light(guide_number_m=10)]))
    assert checked.petal == Petal(width_mm=20.0, reflectance_tip=(0.1, 0.2, 0.3), veins=3)
    assert type(checked.petal.width_mm) is float
    assert checked.lights == (Light(guide_number_m=10.0),)
    assert hash(checked) == hash(check_scene(checked))


def test_the_default_scene_is_allowed():
    assert check_scene(Scene()) == Scene()
