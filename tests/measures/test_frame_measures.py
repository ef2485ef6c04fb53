"""Which drops are measured, the reasons for empty numbers, medians, rows."""

import json
from dataclasses import fields, replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures import (
    MEASURES,
    SCHEMA_VERSION,
    DropMeasures,
    FrameMeasures,
    compare_measures,
    drop_rows,
    frame_row,
    measure_frame,
)
from lightsim.measures.clock import circular_median, clock_of, direction_of, hours_between, wrapped
from lightsim.measures.frame_measures import middle_and_spread, spread_of
from tests.measures.drawing import coverage, ellipse, sphere_glint, wet_petal

SHAPE = (160, 240)
GOOD = (120.0, 80.0, 30.0)
DROPS = [(20.0, 80.0, 30.0), (200.0, 40.0, 5.0), GOOD, (300.0, 80.0, 20.0), (195.0, 110.0, 20.0)]


def several(**kinds):
    glint = 10.0 * sphere_glint(SHAPE, GOOD[:2], GOOD[2], 60.0, 10.0, 20.0)
    glint += 10.0 * sphere_glint(SHAPE, DROPS[4][:2], DROPS[4][2], 60.0, 10.0, 20.0)
    return wet_petal(SHAPE, DROPS, glint=glint, **kinds)


def test_drops_that_cannot_be_measured_say_why_and_keep_their_place():
    m = measure_frame(several())
    assert [d.drop for d in m.drops] == [0, 1, 2, 3, 4]
    reasons = [d.missing.get("highlight_area_px") for d in m.drops]
    assert reasons == [
        "the drop is cut by the edge of the frame",
        "the drop is smaller than 12 pixels across",
        None,
        "the drop is outside the frame",
        None,
    ]
    assert m.drops_measured == 2


def test_out_of_focus():
    m = measure_frame(several(blur_px=6.0))
    assert m.drops[4].missing["shadow_clock"] == "the drop is out of focus"  # 6 of 20 px: more than a quarter
    assert [d.measurable for d in m.drops] == [False, False, True, False, False]


def test_a_drop_behind_another_is_hidden():
    photo = several()
    index = photo.maps.drop_index.copy()
    index[index == 2] = 4
    m = measure_frame(replace(photo, maps=replace(photo.maps, drop_index=index)))
    assert not m.drops[2].measurable
    assert m.drops[2].missing["caustic_clock"] == "the drop is hidden by what stands in front of it"


def test_every_empty_number_has_a_reason_and_no_other_has():
    m = measure_frame(several())
    for record in (m, *m.drops):
        for f in fields(record):
            if f.name in ("missing", "drops"):
                continue
            assert (getattr(record, f.name) is None) == (f.name in record.missing), f.name


def test_the_reference_drop_is_large_sharp_and_near_the_middle():
    assert measure_frame(several()).reference_drop == 2
    assert measure_frame(several(), reference_drop=4).reference_drop == 4
    none = measure_frame(wet_petal(SHAPE, [DROPS[1]]))
    assert none.reference_drop is None
    assert none.missing["reference_drop"] == "no drop can be measured"
    with pytest.raises(PictureError, match="reference drop 9: there are drops 0 to 4 in this picture"):
        measure_frame(several(), reference_drop=9)


def test_empty_medians_count_the_reasons():
    m = measure_frame(wet_petal(SHAPE, [*DROPS[:2], GOOD]))
    assert m.highlight_aspect_median is None
    assert m.missing["highlight_aspect_median"] == (
        "1 drop: no image of the key in this drop; "
        "1 drop smaller than 12 pixels across; 1 drop cut by the edge of the frame"
    )
    bare = measure_frame(wet_petal(SHAPE, []))
    assert bare.missing["highlight_aspect_median"] == "no drops in the picture"


def test_what_was_looked_at_comes_before_what_the_frame_leaves_out():
    far = [(400.0 + 10 * k, 80.0, 20.0) for k in range(9)]
    m = measure_frame(wet_petal(SHAPE, [*far, DROPS[0], *DROPS[1:3], DROPS[1]]))
    assert m.missing["highlight_aspect_median"] == (
        "1 drop: no image of the key in this drop; 2 drops smaller than 12 pixels across; "
        "9 drops outside the frame; 1 drop cut by the edge of the frame"
    )


def test_medians_and_spreads_of_a_bell_curve():
    # Half the distance between the 16th and 84th percentile of a normal distribution is 0.9945 sigma
    # (tables of the normal distribution).
    values = np.random.default_rng(2).normal(5.0, 2.0, 200_000)
    middle, spread = middle_and_spread("highlight_aspect", values)
    assert middle == pytest.approx(5.0, abs=0.02)
    assert spread == pytest.approx(0.9945 * 2.0, rel=0.01)
    assert spread_of(np.full(7, 3.3)) == 0.0


def test_clock_positions_have_their_median_round_the_dial():
    assert circular_median([11.5, 11.75, 12.0, 0.25, 0.5]) == 12.0
    assert circular_median([11.0, 1.0]) == pytest.approx(12.0)
    assert circular_median([4.0]) == 4.0
    _, spread = middle_and_spread("highlight_clock", [11.0, 12.0, 1.0])
    assert spread == pytest.approx(0.68, abs=0.01)  # percentiles 16 and 84 of -1, 0, 1 are -0.68 and 0.68


def test_clock_positions():
    assert clock_of(0.0, -1.0) == 12.0
    assert clock_of(1.0, 0.0) == pytest.approx(3.0)
    assert clock_of(0.0, 1.0) == pytest.approx(6.0)
    assert clock_of(-1.0, 0.0) == pytest.approx(9.0)
    assert wrapped(-1.5) == 10.5
    assert hours_between(11.0, 1.0) == 2.0
    assert hours_between(1.0, 11.0) == -2.0
    for clock in (0.5, 4.0, 7.25, 12.0):
        assert clock_of(*direction_of(clock)) == pytest.approx(clock)


def test_every_measure_is_documented_with_unit_and_words():
    m = FrameMeasures()
    documented = set(MEASURES)
    for record in (m, DropMeasures(0, (1.0, 1.0), 1.0)):
        for f in fields(record):
            if f.name not in ("missing", "drops", "centre_px"):
                assert f.name in documented, f.name
    assert all(unit and text for unit, text in MEASURES.values())
    assert all(MEASURES[key][0] == "mm" for key in MEASURES if "_mm" in key and "mm2" not in key)


def test_rows_are_flat_complete_and_survive_json():
    m = measure_frame(several())
    rows = [frame_row(m, angle_deg=60.0, clock=10.0), *drop_rows(m, angle_deg=60.0, clock=10.0)]
    assert rows == json.loads(json.dumps(rows))
    for row in rows:
        assert row["schema_version"] == SCHEMA_VERSION == 3
        assert row["angle_deg"] == 60.0
    assert len({tuple(row) for row in rows[1:]}) == 1  # one set of columns
    assert rows[1]["missing"] == "the drop is cut by the edge of the frame"
    assert rows[3]["centre_x_px"] == 120.0


def test_differences_in_stops_and_hours():
    first = FrameMeasures(
        petal_contrast_ratio=4.0, petal_contrast_stops=2.0, highlight_clock_median=11.0, petal_linear=0.1
    )
    second = FrameMeasures(
        petal_contrast_ratio=16.0, petal_contrast_stops=4.0, highlight_clock_median=1.0, petal_linear=0.05
    )
    changed = compare_measures(first, second)
    assert changed["petal_contrast_ratio"] == (2.0, "stops")
    assert changed["petal_contrast_stops"] == (2.0, "stops")
    assert changed["highlight_clock_median"] == (2.0, "hours")
    assert changed["petal_linear"] == (-1.0, "stops")
    assert "texture_fine_rms" not in changed


def test_the_same_photograph_gives_the_same_numbers():
    assert measure_frame(several(), light_clock=10.0) == measure_frame(several(), light_clock=10.0)


def test_highlights_outside_the_depth_of_field_are_left_out_of_the_medians_and_counted():
    """Circle of confusion: diagonal / 1500, here 400 px / 1500 = 0.27 px. A disc twice as wide is outside."""
    drops, shape = [(60.0, 60.0, 24.0), (180.0, 60.0, 24.0), (60.0, 180.0, 24.0)], (240, 320)
    glint = np.zeros(shape)
    for (x, y, _), wide in zip(drops, (8.0, 8.0, 16.0), strict=True):
        glint = np.maximum(glint, 5.0 * coverage(ellipse((x - 8.0, y - 8.0), (wide, wide)), shape))
    photo = wet_petal(shape, drops, glint=glint)

    def measured(blur_px):
        blurred = replace(photo.maps.drops, blur_px=np.array(blur_px))
        return measure_frame(replace(photo, maps=replace(photo.maps, drops=blurred)))

    some, both, none = measured([0.0, 0.26, 0.54]), measured([0.0, 0.0, 0.0]), measured([0.6, 0.6, 0.6])
    assert (both.drops_measured, both.highlights_out_of_focus) == (3, 0)
    assert (some.drops_measured, some.highlights_out_of_focus) == (3, 1)
    assert [drop.in_depth_of_field for drop in some.drops] == [True, True, False]
    sharp, _, soft = (drop.highlight_long_mm for drop in some.drops)
    assert soft > 1.5 * sharp  # still told of the drop itself
    assert some.highlight_long_mm_median == pytest.approx(sharp, rel=0.02)
    assert some.highlight_long_mm_spread < 0.05 * sharp < both.highlight_long_mm_spread
    assert none.highlight_long_mm_median is None
    assert none.missing["highlight_long_mm_median"] == "all 3 drops: the drop is outside the depth of field"
