"""The lens train's figures as a table for the terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from lightsim.optics.lens_figures import TrainFigures
from lightsim.optics.marks import F_NUMBERS
from lightsim.report.words import fixed, percent, plain, significant

if TYPE_CHECKING:
    from rich.table import Table

Write = Callable[[TrainFigures], str]


def _mm(key: str, figures: int = 3) -> Write:
    return lambda train: f"{significant(getattr(train, key), figures)} mm"


def _um(key: str) -> Write:
    return lambda train: f"{significant(getattr(train, key), 3)} µm"


def _to_mm(key: str) -> Write:
    def write(train: TrainFigures) -> str:
        low, high = (significant(end, 3) for end in getattr(train, key))
        return "settled" if low == high else f"{low} to {high} mm"

    return write


def _magnification_range(train: TrainFigures) -> str:
    low, high = (significant(end, 3) for end in train.magnification_range)
    return "settled" if low == high else f"{low} to {high}"


def _f_number_range(train: TrainFigures) -> str:
    low, high = (plain(end, 1) for end in train.effective_f_number_range)
    return "settled" if low == high else f"f/{low} to {high}"


def _effective(train: TrainFigures) -> str:
    return f"f/{plain(train.effective_f_number, 1)}"


_OPEN = "over what the figures given leave open"

# name, how it is written, what it means; None before a new group
_ROWS: tuple[tuple[str, Write, str] | None, ...] = (
    (
        "magnification",
        lambda train: f"{significant(train.magnification, 3)} : 1",
        "image size : subject size",
    ),
    ("  range", _magnification_range, _OPEN),
    (
        "field",
        lambda train: f"{significant(train.field_width_mm, 3)} × {significant(train.field_height_mm, 3)} mm",
        "width × height where it is sharp",
    ),
    ("one pixel", _um("subject_pixel_um"), "of the sensor, at the subject"),
    ("working distance", _mm("working_distance_mm"), "free before the foremost glass, from the sharp plane"),
    ("  range", _to_mm("working_distance_range_mm"), _OPEN),
    ("sensor distance", _mm("sensor_distance_mm"), "from the sharp plane to the mark on the camera"),
    ("  range", _to_mm("sensor_distance_range_mm"), _OPEN),
    ("focal length", _mm("focal_length_mm"), "of all glass together, as focused"),
    None,
    ("f-number", lambda train: F_NUMBERS.label(train.exact_f_number), "as marked on the lens"),
    ("effective f-number", _effective, "what lights the sensor and diffracts"),
    ("  range", _f_number_range, _OPEN),
    (
        "light lost",
        lambda train: f"{fixed(train.light_lost_stops, 2)} stops",
        "against the mark: to extension or a teleconverter, none to a close-up lens",
    ),
    ("entrance pupil", _mm("pupil_diameter_mm"), "its true diameter, which makes the blur"),
    ("pupil distance", _mm("pupil_distance_mm"), "from the sharp plane to the entrance pupil"),
    None,
    ("depth of field", _mm("depth_of_field_mm"), "exact, near and far together"),
    (
        "  near, far",
        lambda train: f"{significant(train.depth_near_mm, 3)}, {significant(train.depth_far_mm, 3)} mm",
        "toward the lens, and away from it",
    ),
    ("  approximate", _mm("depth_of_field_approximate_mm"), "2 × effective f-number × circle / m²"),
    (
        "circle of confusion",
        lambda train: f"{significant(1000.0 * train.circle_of_confusion_mm, 3)} µm",
        "on the sensor, taken as sharp",
    ),
    None,
    ("Airy disc", _um("airy_diameter_um"), "diameter on the sensor, 550 nm"),
    ("sensor pixel", _um("sensor_pixel_um"), "its pitch on the sensor"),
    (
        "MTF cut-off",
        lambda train: f"{significant(train.cut_off_per_mm, 3)} cycles/mm",
        "on the sensor; nothing finer is drawn",
    ),
    (
        "MTF at four pixels",
        lambda train: percent(train.contrast_at_half_pixel_frequency),
        "contrast that diffraction leaves to a period of four pixels",
    ),
    (
        "resolved detail",
        _um("resolved_detail_um"),
        "at the subject: two points just told apart, or two pixels",
    ),
    ("  limited by", lambda train: train.limited_by, ""),
    (
        "aperture (NA)",
        lambda train: significant(train.object_aperture, 3),
        "on the subject’s side: m / (2 × effective f-number)",
    ),
)


def lens_table(figures: TrainFigures, in_file: TrainFigures | None = None) -> Table:
    """All figures, in groups; those of the file beside them when a value was changed."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("lens train", no_wrap=True)
    if in_file is not None:
        table.add_column("in the file", justify="right", no_wrap=True)
    table.add_column("value" if in_file is None else "now", justify="right", style="bold", no_wrap=True)
    table.add_column("what it is", style="dim")
    for number, row in enumerate(_ROWS):
        if row is not None:
            name, write, meaning = row
            before = [] if in_file is None else [write(in_file)]
            group_ends = number + 1 < len(_ROWS) and _ROWS[number + 1] is None
            table.add_row(name, *before, write(figures), meaning, end_section=group_ends)
    return table
