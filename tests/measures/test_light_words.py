"""Reasons name the light that was measured."""

from __future__ import annotations

from lightsim.measures.measure_records import DropMeasures, FrameMeasures, with_light_named


def test_reasons_of_frame_and_drops_name_the_light():
    drop = DropMeasures(0, (1.0, 2.0), 3.0, missing={"highlight_long_mm": "no image of the key in this drop"})
    measures = FrameMeasures(
        drops=(drop,), missing={"shadow_depth_ratio": "the key\u2019s visibility is not known"}
    )
    named = with_light_named(measures, "fill")
    assert named.drops[0].missing["highlight_long_mm"] == "no image of \u201cfill\u201d in this drop"
    assert named.missing["shadow_depth_ratio"] == "\u201cfill\u201d\u2019s visibility is not known"
