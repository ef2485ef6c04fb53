"""The items of a plan: numbered as they are referred to on the drawings, with their rows in the table."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from lightsim.report.drawing.sheet_of_paper import Box, Sheet, break_lines, line_height_mm, width_mm
from lightsim.report.setup.drafting import draw_caution_sign
from lightsim.report.setup.plan_records import Place, SetupPlan, bare_length, length_words
from lightsim.report.setup.solid.whole import FLOWER
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import clock_words, degrees, plain
from lightsim.scene.solid_bodies import CAMERA

POINTS = SIZES["smallest"]
_COLUMNS = (  # heading in two lines, left edge in mm from the table's own
    ("", "item", 0.0),
    ("", "", 8.0),
    ("from the", "subject", 44.0),
    ("off the", "lens axis", 60.0),
    ("clock", "position", 75.0),
    ("to the", "side", 91.0),
    ("toward or", "away", 109.0),
    ("above or", "below", 129.0),
    ("", "face", 148.0),
)
_NOTE = (
    "From the sharp point of the subject to the middle of each face; to the side, toward (the camera) and "
    "above with the table’s level, seen from behind the camera. Faces look at the subject."
)


@dataclass(frozen=True)
class Item:
    """Something on the set. number : by which the drawings refer to it.  thing : of the solids.
    place : of a light, a card or the backdrop; None for flower and camera.  cells : its row."""

    number: int
    thing: str
    place: Place | None
    cells: tuple[str, ...]
    cautions: tuple[int, ...] = ()


def items_of(plan: SetupPlan) -> list[Item]:
    """Flower, camera, then lights, cards and backdrop in the scene's order."""
    camera = plan.camera
    turn = "down" if camera.looks_down_deg >= 0 else "up"
    tilt = (
        "level"
        if abs(camera.looks_down_deg) < 0.05
        else f"looks {turn} {degrees(abs(camera.looks_down_deg))}"
    )
    high = f"{bare_length(plan.subject_above_table_mm)} or more above the table"
    flower = ("subject, sharp point", "0", "–", "–", "–", "–", "–", high)
    front = (
        "camera, lens front",
        length_words(camera.front_mm),
        "0°",
        "–",
        "–",
        side_words(camera.front_toward_mm, "toward", "away"),
        side_words(camera.front_up_mm, "above", "below"),
        tilt,
    )
    found = [
        Item(1, FLOWER, None, flower, plan.marks_of(FLOWER)),
        Item(2, CAMERA, None, front, plan.marks_of(CAMERA)),
    ]
    for number, place in enumerate(plan.places, 3):
        found.append(Item(number, place.name, place, tuple(place_cells(place)), plan.marks_of(place.name)))
    return found


def _lines(item: Item, room_mm: float) -> list[list[str]]:
    """The lines of each of an item's cells, its number first."""
    edges = [x for _, _, x in _COLUMNS]
    wide = [*(end - start - 1.2 for start, end in pairwise(edges)), room_mm - edges[-1]]
    cells = (str(item.number), *item.cells)
    faces = (Face.SEMIBOLD, Face.SEMIBOLD, *[Face.REGULAR] * 7)
    signs = width_mm(" ".join(map(str, item.cautions)), POINTS, Face.SEMIBOLD) + 7.0 if item.cautions else 0.0
    room = [each - (signs if n == 1 else 0.0) for n, each in enumerate(wide)]
    return [break_lines(text, POINTS, room[n], faces[n]) or [""] for n, text in enumerate(cells)]


def item_table_height_mm(items: list[Item], room_mm: float) -> float:
    """Height of the table with its headings and the note under it."""
    rows = sum(max(map(len, _lines(item, room_mm))) for item in items)
    note = len(break_lines(_NOTE, POINTS, room_mm))
    return line_height_mm(POINTS, rows + 2 + note) + 0.9 * len(items) + 2.5


def draw_item_table(sheet: Sheet, items: list[Item], box: Box) -> None:
    """The table at the top of a box."""
    left, y, right, _ = box
    quiet, step = sheet.theme.quiet, line_height_mm(POINTS)
    for first, second, x in _COLUMNS:
        sheet.text(left + x, y + 0.75 * step, first, POINTS, quiet)
        sheet.text(left + x, y + 1.75 * step, second, POINTS, quiet)
    y += 2.0 * step + 0.6
    for item in items:
        sheet.line([(left, y), (right, y)])
        y += 0.45
        cells = _lines(item, right - left)
        lit = item.place is not None and item.place.is_light
        for number, (lines, (_, _, x)) in enumerate(zip(cells, _COLUMNS, strict=True)):
            colour = sheet.theme.accent if lit and number == 1 else sheet.theme.ink
            for count, line in enumerate(lines):
                face = Face.SEMIBOLD if number < 2 else Face.REGULAR
                sheet.text(left + x, y + (count + 0.76) * step, line, POINTS, colour, face)
        if item.cautions:
            x = left + _COLUMNS[1][2] + width_mm(cells[1][-1], POINTS, Face.SEMIBOLD) + 3.4
            base = y + (len(cells[1]) - 1 + 0.76) * step
            draw_caution_sign(sheet, (x, base - 0.9), 1.8)
            numbers = " ".join(map(str, item.cautions))
            sheet.text(x + 2.6, base, numbers, POINTS, sheet.theme.warning, Face.SEMIBOLD)
        y += max(map(len, cells)) * step + 0.45
    sheet.line([(left, y), (right, y)])
    y += 0.8
    for line in break_lines(_NOTE, POINTS, right - left):
        y += step
        sheet.text(left, y - 0.24 * step, line, POINTS, quiet)


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
