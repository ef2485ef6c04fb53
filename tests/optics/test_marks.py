"""Marked numbers and what they stand for. f-numbers ISO 517:2008, shutter times ISO 516, speeds ISO 12232
and ISO 5800 (lists seen in secondary pages, not in the standards); which round number marks a third is
common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.exposure_values import stops
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES

SERIES = (F_NUMBERS, SHUTTER_TIMES, ISO_SPEEDS, FLASH_POWERS)


@pytest.mark.parametrize(
    ("marked", "exact"),
    [
        (1, 1.0),
        (1.4, 1.4142136),
        (2, 2.0),
        (2.8, 2.8284271),
        (4, 4.0),
        (5.6, 5.6568542),
        (8, 8.0),
        (11, 11.313708),
        (16, 16.0),
        (22, 22.627417),
        (32, 32.0),
        (45, 45.254834),
        (64, 64.0),
        (1.6, 1.587401),
        (1.8, 1.781797),
        (2.2, 2.244924),
        (2.5, 2.519842),
        (3.2, 3.174802),
        (3.5, 3.563595),
        (4.5, 4.489848),
        (5, 5.039684),
        (6.3, 6.349604),
        (7.1, 7.127190),
        (9, 8.979696),
        (10, 10.079368),
        (13, 12.699208),
        (14, 14.254379),
        (18, 17.959393),
        (20, 20.158737),
        (25, 25.398417),
        (29, 28.508759),
    ],
)
def test_f_numbers(marked, exact):
    assert F_NUMBERS.exact(marked) == pytest.approx(exact, abs=1e-6)


@pytest.mark.parametrize(
    ("marked", "exact"), [(15, 16), (30, 32), (60, 64), (125, 128), (250, 256), (500, 512), (1000, 1024)]
)
def test_shutter_times(marked, exact):
    assert SHUTTER_TIMES.exact(1 / marked) == pytest.approx(1 / exact, abs=1e-12)


@pytest.mark.parametrize(
    ("marked", "exact"),
    [
        (100, 100),
        (125, 125.992),
        (160, 158.74),
        (200, 200),
        (250, 251.984),
        (320, 317.48),
        (400, 400),
        (500, 503.968),
        (640, 634.96),
        (800, 800),
    ],
)
def test_speeds(marked, exact):
    assert ISO_SPEEDS.exact(marked) == pytest.approx(exact, abs=1e-3)


@pytest.mark.parametrize("series", SERIES, ids=lambda series: series.name)
def test_every_mark_stands_for_one_number(series):
    for label, third, marked in zip(series.labels, series.thirds, series.marked, strict=True):
        exact = series.exact(marked)
        assert exact == series.exact_at(third)
        assert series.exact(exact) == pytest.approx(exact)
        assert series.nearest(exact) == (label, pytest.approx(exact), 0.0)
    steps = [
        series.stops_between(series.exact_at(first), series.exact_at(second))
        for first, second in zip(series.thirds, series.thirds[1:], strict=False)
    ]
    assert [abs(step) for step in steps] == pytest.approx([1 / 3] * len(steps))


@given(st.sampled_from(SERIES), st.floats(0.02, 0.98), st.floats(-0.16, 0.16))
def test_the_rest_of_a_number_is_left_in_stops(series, place, rest):
    third = series.thirds[round(place * (len(series.thirds) - 1))]
    number = series.exact_at(third) * 2 ** (series.more_light * rest / series.stops_per_octave)
    mark = series.nearest(number)
    assert mark.exact == pytest.approx(series.exact_at(third))
    assert mark.rest_stops == pytest.approx(rest, abs=1e-9)


def test_labels():
    assert F_NUMBERS.label(11.313708) == "f/11"
    assert F_NUMBERS.label(8.0 * 2.0**0.06) == "f/8 - 0.1 stops"
    assert SHUTTER_TIMES.label(1 / 128) == "1/125 s"
    assert FLASH_POWERS.label(2 ** -(11 / 3)) == "1/16 + 1/3"
    thirds = "f/8 f/9 f/10 f/11 f/13 f/14 f/16"
    assert " ".join(mark.label for mark in F_NUMBERS.within(8, 16)) == thirds
    assert [mark.label for mark in FLASH_POWERS.full_stops()] == [f"1/{2**stop}" for stop in range(9)]


# Exact f/8 to f/22 is three stops, from the marks 2.92: why marks are made exact first.
def test_stop_arithmetic():
    between = F_NUMBERS.stops_between
    assert between(F_NUMBERS.exact(8), F_NUMBERS.exact(22)) == pytest.approx(-3.0, abs=1e-12)
    assert between(8, 22) == pytest.approx(-2.918863, abs=1e-6)
    assert between(F_NUMBERS.exact(22), F_NUMBERS.exact(32)) == pytest.approx(-1.0, abs=1e-12)
    assert between(22, 32) == pytest.approx(-1.081137, abs=1e-6)
    assert stops((1 / 16) / (1 / 128)) == pytest.approx(3.0, abs=1e-12)
    assert stops((1 / 8) / (1 / 16)) == pytest.approx(1.0, abs=1e-12)


# Two conventions of lighting ratio, both common practice, no source.
@pytest.mark.parametrize(("ratio", "metered"), [(2, 1.0), (3, 1.584963), (4, 2.0), (8, 3.0)])
def test_metered_sides(ratio, metered):
    assert stops(ratio) == pytest.approx(metered, abs=1e-6)
