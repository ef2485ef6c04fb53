"""A place in words: what a tape measure and a protractor need."""

from __future__ import annotations

from lightsim.report.setup.plan_records import Place, bare_length, length_words
from lightsim.report.words import clock_words, degrees, plain

SLOPE_DEG = 5.0  # a face whose width slopes more says so
AIM_MM = 1.0  # a face that aims farther beside the subject says so


def place_cells(place: Place) -> list[str]:
    """A place's row."""
    on_axis = min(place.angle_deg, 180.0 - place.angle_deg) < 0.5
    return [
        place.name,
        length_words(place.distance_mm),
        degrees(place.angle_deg),
        "–" if on_axis else clock_words(place.clock),
        side_words(place.right_mm, "right", "left"),
        side_words(place.toward_mm, "toward", "away"),
        side_words(place.up_mm, "above", "below"),
        _face(place),
    ]


def side_words(value_mm: float, plus: str, minus: str) -> str:
    """A length with the side that it runs to: 193 left; a dash for none."""
    size = bare_length(abs(value_mm))
    return "–" if size == "0" else f"{size} {plus if value_mm > 0 else minus}"


def _face(place: Place) -> str:
    words = place.about.partition(", ")[0]
    if place.is_round:
        words = ", ".join(place.about.split(", ")[:2])
    if place.aims_off_mm > AIM_MM:
        words += f", aims {plain(place.aims_off_mm, 0)} mm beside"
    if abs(place.slope_deg) >= SLOPE_DEG and not place.is_round:
        words += f", width {plain(abs(place.slope_deg), 0)}° off level"
    return words
