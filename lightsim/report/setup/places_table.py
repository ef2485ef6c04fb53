"""The table of places: what a tape measure and a protractor need, in figures."""

from __future__ import annotations

from itertools import pairwise

from lightsim.report.drawing.grey_card import ACCENT, INK, LABEL, RULE, SMALLEST_PT
from lightsim.report.setup.cautions_block import WARNING
from lightsim.report.setup.paper import Box, Paper, line_mm, lines_of
from lightsim.report.setup.plan_records import Place, SetupPlan, bare_length, length
from lightsim.report.words import clock_words, degrees, plain

POINTS = SMALLEST_PT
SLOPE_DEG = 5.0  # a face whose width slopes more says so
AIM_MM = 1.0  # a face that aims farther beside the subject says so
_COLUMNS = (  # heading in two lines, left edge in mm from the table's own
    ("", "", 0.0),
    ("from the", "subject", 39.0),
    ("off the", "lens axis", 56.0),
    ("clock", "position", 73.0),
    ("to the", "side", 91.0),
    ("toward or", "away", 111.0),
    ("above or", "below", 131.0),
    ("", "face", 152.0),
)
_NOTE = (
    "From the sharp point of the subject to the middle of each face, in mm; side, toward (the camera) and "
    "above go with the table’s level, seen from behind the camera. On the drawings arrows point as they are "
    "drawn, and angles run, from above, round from the camera’s side; from the side, from the subject’s "
    "level. Faces look at the subject."
)
_FACE_MM = 40.0


def cells_of(place: Place, marks: tuple[int, ...] = ()) -> list[str]:
    """A place's row."""
    on_axis = min(place.angle_deg, 180.0 - place.angle_deg) < 0.5
    return [
        place.name + (f" {WARNING} {' '.join(map(str, marks))}" if marks else ""),
        length(place.distance_mm),
        degrees(place.angle_deg),
        "–" if on_axis else clock_words(place.clock),
        _way(place.right_mm, "right", "left"),
        _way(place.toward_mm, "toward", "away"),
        _way(place.up_mm, "above", "below"),
        _face(place),
    ]


def _way(value_mm: float, plus: str, minus: str) -> str:
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


def _rows(plan: SetupPlan) -> list[tuple[Place, list[list[str]]]]:
    """Each place with the lines of each of its cells."""
    rows = []
    for place in plan.places:
        cells = cells_of(place, plan.marks_of(place.name))
        edges = [x for _, _, x in _COLUMNS]
        wide = [*(end - start - 1.0 for start, end in pairwise(edges)), _FACE_MM]
        lines = [lines_of(text, POINTS, wide[number], number == 0) for number, text in enumerate(cells)]
        rows.append((place, lines))
    return rows


def _note_lines(width_mm: float) -> list[str]:
    return lines_of(_NOTE, POINTS, width_mm)


def table_height_mm(plan: SetupPlan, width_mm: float) -> float:
    """Height of the table with its headings and the note under it."""
    lines = sum(max(len(cell) for cell in cells) for _, cells in _rows(plan)) + 2 + len(_note_lines(width_mm))
    return lines * line_mm(POINTS) + 0.7 * len(plan.places) + 2.0


def draw_table(paper: Paper, plan: SetupPlan, box: Box) -> None:
    """The table on the page itself."""
    left, y, right, _ = box
    for first, second, x in _COLUMNS:
        paper.text(left + x, y + 0.75 * line_mm(POINTS), first, POINTS, LABEL)
        paper.text(left + x, y + 1.75 * line_mm(POINTS), second, POINTS, LABEL)
    y += 2.0 * line_mm(POINTS) + 0.6
    for place, cells in _rows(plan):
        paper.line([(left, y), (right, y)], RULE, 0.15)
        y += 0.35
        for number, (lines, (_, _, x)) in enumerate(zip(cells, _COLUMNS, strict=True)):
            fill = ACCENT if number == 0 and place.is_light else INK
            for count, line in enumerate(lines):
                baseline = y + (count + 0.78) * line_mm(POINTS)
                paper.text(left + x, baseline, line, POINTS, fill, bold=number == 0)
        y += max(len(lines) for lines in cells) * line_mm(POINTS) + 0.35
    paper.line([(left, y), (right, y)], RULE, 0.15)
    y += 0.6
    for line in _note_lines(right - left):
        y += line_mm(POINTS)
        paper.text(left, y - 0.22 * line_mm(POINTS), line, POINTS, LABEL)
