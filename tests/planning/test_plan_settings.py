"""The settings that a plan lists, in words."""

import pytest

from lightsim.planning.plan_settings import light_settings
from lightsim.scene.records import Diffuser, Light


@pytest.mark.parametrize(
    ("light", "expected"),
    [
        (Light(guide_number_m=20.0), "guide number 20 m at 1/1, 5600 K"),
        (Light(guide_number_m=20.0, power=0.25, diffuser=Diffuser(loss_stops=1.3)),
         "guide number 20 m at 1/4, diffuser takes 1.3 stops, 5600 K"),
        (Light(intensity=30.0), "30.0 cd s, full power, 5600 K"),
        (Light(kind="continuous", illuminance_lx=900.0), "900 lx at the subject, 5600 K"),
        (Light(kind="continuous", ev100=8.5), "EV 8.5 at the subject (ISO 100), 5600 K"),
    ],
)  # fmt: skip
def test_a_light_s_output_in_words(light, expected):
    assert light_settings(light) == expected
