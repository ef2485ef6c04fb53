"""Each caution stands where its cause is on the set, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lightsim.planning.cautions import LONG_TUBES_MM, cautions, is_lamp, marks
from lightsim.scene.records import Drops, Lens, Light, PlacedDrop, Scene

FLASH = Light(name="flash", guide_number_m=20.0)
LAMP = Light(name="lamp", kind="continuous", illuminance_lx=500.0, colour_temperature_k=3200.0)
WINDOW = Light(name="window", kind="continuous", illuminance_lx=500.0, colour_temperature_k=6500.0)
DRY = Drops(count=0)


def keys(scene):
    return {caution.key for caution in cautions(scene)}


@pytest.mark.parametrize(
    ("lights", "drops", "expected"),
    [
        ((), Drops(), set()),
        ((WINDOW,), Drops(), set()),
        ((FLASH,), DRY, {"flash inside", "flash and eyes"}),
        ((FLASH,), Drops(), {"flash and water", "flash inside", "flash and eyes"}),
        ((FLASH,), replace(DRY, placed=(PlacedDrop(0, 0, 1.0),)),
         {"flash and water", "flash inside", "flash and eyes"}),
        ((LAMP,), DRY, {"hot lamps"}),
        ((LAMP,), Drops(), {"hot lamps", "mains and water"}),
        ((FLASH, LAMP, WINDOW), Drops(),
         {"flash and water", "flash inside", "flash and eyes", "hot lamps", "mains and water"}),
    ],
)  # fmt: skip
def test_each_caution_has_its_cause(lights, drops, expected):
    assert keys(Scene(lights=lights, drops=drops)) == expected


def test_a_caution_names_the_things_that_bring_it():
    rim = replace(FLASH, name="rim")
    found = {caution.key: caution.on for caution in cautions(Scene(lights=(FLASH, LAMP, rim)))}
    assert found["flash and water"] == ("flash", "rim")
    assert found["hot lamps"] == ("lamp",)


@pytest.mark.parametrize(
    ("tubes", "wanted"),
    [((), False), ((12.0,), False), ((12.0, 12.0), False), ((12.0, 20.0), True), ((36.0,), True)],
)
def test_long_tubes_want_a_rest_under_the_lens(tubes, wanted):
    assert (sum(tubes) >= LONG_TUBES_MM) == wanted
    found = [
        each for each in cautions(Scene(lens=Lens(extension_tubes_mm=tubes))) if each.key == "lens on tubes"
    ]
    assert bool(found) == wanted
    for caution in found:
        assert caution.on == ("camera",)
        assert caution.words.startswith(f"{sum(tubes):g} mm of tubes")


def test_a_warm_lamp_may_glow_and_shatter():
    warm = next(each for each in cautions(Scene(lights=(LAMP,))) if each.key == "hot lamps")
    cold = next(
        each
        for each in cautions(Scene(lights=(replace(LAMP, colour_temperature_k=5600.0),)))
        if each.key == "hot lamps"
    )
    assert "shatter" in warm.words
    assert "shatter" not in cold.words


@pytest.mark.parametrize(
    ("name", "lamp"),
    [
        ("lamp", True),
        ("panel", True),
        ("sunny lamp", True),
        ("window", False),
        ("north window", False),
        ("the sun", False),
        ("sky_light", False),
    ],
)
def test_daylight_is_no_lamp(name, lamp):
    assert is_lamp(replace(LAMP, name=name)) == lamp
    assert not is_lamp(FLASH)


def test_the_words_carry_what_matters():
    said = {
        each.key: each.words
        for each in cautions(Scene(lights=(FLASH, LAMP), lens=Lens(extension_tubes_mm=(68,))))
    }
    assert "capacitor" in said["flash inside"]
    assert "residual-current" in said["mains and water"]
    assert "splash-proof" in said["mains and water"]
    assert "animals" in said["flash and eyes"]
    assert "plastic" in said["lens on tubes"]


def test_what_the_exposure_minds_is_marked_where_its_cause_is():
    small = replace(FLASH, width_mm=10.0, height_mm=10.0)  # a small bare flash: its highlights burn out
    found = {caution.key: caution.on for caution in marks(Scene(lights=(small,)))}
    assert found["highlights"] == ("flash",)
    weak = replace(FLASH, power=1 / 256)
    assert {caution.key: caution.on for caution in marks(Scene(lights=(weak,)))}["power"] == ("flash",)


def test_what_is_well_is_not_marked():
    large = replace(FLASH, width_mm=400.0, height_mm=400.0, distance_mm=400.0, power=1 / 64)
    assert "highlights" not in {caution.key for caution in marks(Scene(lights=(large,)))}
    assert "synchronisation" not in {caution.key for caution in marks(Scene(lights=(large,)))}
