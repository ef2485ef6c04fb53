"""The sheets of a plan: a technical drawing to scale, its table and title block, settings and cautions."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import MultiLineString, box

from lightsim.report.drawing.page_files import write_pages
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.page_options import PageOptions
from lightsim.report.setup.drafting import (
    ARROW_MM,
    FIRST,
    THIRD,
    TITLE_BLOCK_MM,
    TitleBlock,
    draw_dimension,
    draw_projection_symbol,
    readable_turn,
)
from lightsim.report.setup.items import items_of
from lightsim.report.setup.labels import Label, Room
from lightsim.report.setup.plan_records import Caution
from lightsim.report.setup.plan_sheets import drawing_sheet, settings_sheets
from lightsim.report.setup.projection import (
    Outline,
    View,
    edges_of,
    shown_and_hidden,
    silhouette,
    view_from_above,
    view_from_the_side,
)
from lightsim.report.setup.solid.part import box as solid_box
from lightsim.report.theme import theme_for
from tests.report.page_checks import check_legible, check_page, inside, overlap
from tests.report.sets import TRAIN, a_set, crowd, far_away, flash, hard, plan_of

PICTURE = np.full((32, 48, 3), (150, 90, 110), np.uint8)
BLOCK = TitleBlock(
    "the set", "plan of the set-up", "set.toml", "2026-01-31", "1 / 2", "A class", projection=FIRST
)
CAUTIONS = (
    Caution(
        "flash and water", "Keep the spray away from it, and do so with some care. " * 3, ("flash", "key")
    ),
    Caution("lens on tubes", "Hold it up.", ("camera",)),
)
SETS = {
    "plain": lambda: a_set(35.0),
    "level": lambda: a_set(0.0, TRAIN),
    "looking up": lambda: a_set(-35.0, backdrop=None),
    "bare": lambda: a_set(lights=(), cards=(), backdrop=None),
    "near the axis": lambda: a_set(
        lights=(flash("ring", 20.0, 12.0, 400.0), flash("behind", 179.0, 6.0, 250.0))
    ),
    "hard": hard,
    "crowd": crowd,
    "far": far_away,
}  # fmt: skip


@pytest.fixture(scope="module", params=list(SETS))
def drawn(request):
    """The drawing sheet of each set, its scale, and its plan."""
    plan, shapes, _ = plan_of(SETS[request.param](), CAUTIONS)
    sheet, ratio = drawing_sheet(plan, shapes, BLOCK, PageOptions())
    return sheet, ratio, plan


def words(sheet):
    return [each.text for each in sheet.texts]


def test_words_keep_apart_and_within_the_frame(drawn):
    sheet, _, _ = drawn
    frame = (10.0, 10.0, 200.0, 287.0)
    boxes = [(each.text, each.box) for each in sheet.texts if each.text]
    for number, (name, one) in enumerate(boxes):
        assert inside(one, frame), name
        for other_name, other in boxes[number + 1 :]:
            assert not overlap(one, other, 0.5), (name, other_name)
    check_legible(sheet)


def test_every_item_has_its_number_and_its_row(drawn):
    sheet, _, plan = drawn
    said = words(sheet)
    items = items_of(plan)
    assert [item.number for item in items] == list(range(1, len(plan.places) + 3))
    for item in items:
        # once in each view, once in the table; both views show it or point at it
        assert said.count(str(item.number)) >= 3
    for place in plan.places:
        assert place.name in said or any(place.name.startswith(text) for text in said if text)
        if place.distance_mm < 10_000.0:
            assert f"{place.distance_mm:.0f} mm" in said


def test_dimensions_give_working_distance_tilt_and_height(drawn):
    sheet, _, plan = drawn
    said = words(sheet)
    assert f"{plan.subject_above_table_mm:.0f} min" in said
    down = plan.camera.looks_down_deg
    if down < 89.0:
        assert f"{plan.camera.front_mm:.0f}" in said
    if 1.0 <= abs(down) < 89.0:
        assert f"{abs(down):g}°" in said


def test_the_scale_that_is_written_is_the_scale_that_is_drawn(drawn):
    sheet, ratio, plan = drawn
    assert f"1 : {ratio:g} on A4" in words(sheet)
    # the dimension of the subject's height: an upright line with an arrowhead at both ends
    wanted = plan.subject_above_table_mm / ratio
    uprights = [
        abs(float(np.ptp(line.get_ydata())))
        for line in sheet.axes.lines
        if len(line.get_xdata()) == 2 and float(np.ptp(line.get_xdata())) < 1e-6
    ]
    assert min(abs(length - wanted) for length in uprights) < 0.02


def test_cautions_stand_at_their_cause_and_on_the_second_sheet():
    plan, shapes, _ = plan_of(hard(), CAUTIONS)
    sheet, _ = drawing_sheet(plan, shapes, BLOCK, PageOptions())
    rows = {item.thing: item.cautions for item in items_of(plan)}
    assert rows["key"] == (1,)
    assert rows["camera"] == (2,)
    warned = [each for each in sheet.texts if each.colour == sheet.theme.warning]
    assert sorted(each.text for each in warned) == ["1", "2"]
    for ground in ("light", "dark"):
        (second,) = settings_sheets(plan, shapes, PICTURE, BLOCK, PageOptions(ground=ground), with_3d=False)
        check_page(second)
        assert {"Hold it up.", "Ask those who know."} <= set(words(second))


def test_many_cautions_take_a_sheet_of_their_own():
    many = tuple(
        Caution(str(n), "Mind this, and mind it well, whatever else you do. " * 8, ("camera",))
        for n in range(14)
    )
    plan, shapes, _ = plan_of(a_set(), many)
    sheets = settings_sheets(plan, shapes, PICTURE, BLOCK, PageOptions())
    assert len(sheets) == 2
    assert "3 / 3" in words(sheets[1])
    check_page(sheets[1])


def test_what_is_too_far_away_is_pointed_at_with_its_distance():
    plan, shapes, _ = plan_of(far_away())
    said = words(drawing_sheet(plan, shapes, BLOCK, PageOptions())[0])
    assert "1000 m" in said
    assert said.count("1000 m away") == 2  # in both views
    assert said.count("2000 mm away") == 2


@pytest.mark.parametrize(("method", "upper"), [(FIRST, "from the side"), (THIRD, "from above")])
def test_views_stand_as_the_projection_method_has_them(method, upper):
    # ISO 5456-2: in first angle the view from above lies below the front view, in third angle above it
    plan, shapes, _ = plan_of(a_set(35.0))
    block = TitleBlock(**{**BLOCK.__dict__, "projection": method})
    sheet, _ = drawing_sheet(plan, shapes, block, PageOptions(paper="letter"))
    tops = {each.text: each.box[1] for each in sheet.texts if each.text.startswith("from ")}
    lower = "from above" if upper == "from the side" else "from the side"
    assert tops[upper] < tops[lower]


def test_the_symbol_shows_the_cone_s_small_end_as_the_method_has_it():
    # ISO 5456-2: seen from its small, left end; the view from the left stands right of it in first angle
    for method, side in ((FIRST, 1.0), (THIRD, -1.0)):
        sheet = Sheet.blank(60.0, 30.0, theme_for())
        draw_projection_symbol(sheet, (10.0, 10.0, 40.0, 20.0), method)
        cone = max((line.get_xydata() for line in sheet.axes.lines), key=len)
        disc = sheet.axes.patches[0].get_xy().mean(axis=0)
        heights = {round(float(x), 3): float(np.ptp(cone[cone[:, 0] == x][:, 1])) for x in set(cone[:, 0])}
        left, right = sorted(heights)
        assert heights[left] == pytest.approx(0.5 * heights[right])
        assert side * (disc[0] - right if side > 0 else disc[0] - left) > 0.0


def test_the_title_block_has_the_fields_of_iso_7200(drawn):
    # ISO 7200: width 180 mm; title, type of document, number, date, creator, sheet, language
    sheet, _, _ = drawn
    assert TITLE_BLOCK_MM[0] == 180.0
    said = set(words(sheet))
    assert {
        "title",
        "type",
        "number",
        "date",
        "created by",
        "sheet",
        "language",
        "scale",
        "projection",
    } <= said
    assert {"the set", "plan of the set-up", "set.toml", "2026-01-31", "A class", "1 / 2"} <= said


def test_a_dimension_line_is_as_long_as_what_it_measures():
    sheet = Sheet.blank(100.0, 100.0, theme_for())
    draw_dimension(sheet, (20.0, 40.0), (50.0, 40.0), np.array([0.0, -10.0]), "300")
    lines = [line.get_xydata() for line in sheet.axes.lines]
    assert any(np.allclose(points, [(20.0, 30.0), (50.0, 30.0)]) for points in lines)
    tips = [patch.get_xy()[0] for patch in sheet.axes.patches if len(patch.get_xy()) == 4]
    assert sorted(float(tip[0]) for tip in tips) == pytest.approx([20.0, 50.0])
    (value,) = sheet.texts
    assert value.box[3] < 30.2  # above its line
    narrow = Sheet.blank(100.0, 100.0, theme_for())
    draw_dimension(narrow, (20.0, 40.0), (20.0 + ARROW_MM, 40.0), np.array([0.0, -10.0]), "30")
    assert narrow.texts[0].box[0] > 20.0 + ARROW_MM  # no room between the arrows: beside them


@pytest.mark.parametrize("angle", range(-180, 181, 15))
def test_values_can_be_read_from_the_foot_or_from_the_right(angle):
    turn = readable_turn(np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))]))
    assert -90.0 < turn <= 90.0 + 1e-6
    assert (
        abs((turn + angle) % 180.0) == pytest.approx(0.0, abs=1e-6)
        or abs((turn + angle) % 180.0 - 180.0) < 1e-6
    )


UP = np.array([0.0, 1.0, 0.0])


def test_edges_of_a_box_straight_on_and_askew():
    part = solid_box("card", "card", (0, 0, 0), (30.0, 20.0, 10.0), (0, 0, 0))
    straight = View("straight", np.array([1.0, 0, 0]), np.array([0, 1.0, 0]))
    assert len(edges_of(part, straight)) == 4
    askew = View("askew", np.array([0.8, 0.0, -0.6]), np.array([-0.36, 0.8, -0.48]))
    assert len(edges_of(part, askew)) == 9  # three faces of a box are seen, with nine edges


def test_what_a_nearer_thing_covers_is_hidden():
    back = Outline("card", "card", box(0, 0, 10, 10), MultiLineString([[(0, 5), (10, 5)]]), 0.0)
    front = Outline("flash", "head", box(4, 0, 6, 10), MultiLineString([[(4, 0), (4, 10)]]), 5.0)
    own = Outline("card", "frame", box(8, 0, 10, 10), MultiLineString([[(8, 0), (8, 10)]]), 1.0)
    seen, hidden = shown_and_hidden(back, [back, front, own])
    assert seen.length == pytest.approx(6.0, abs=0.2)
    assert hidden.length == pytest.approx(2.0, abs=0.2)  # behind its own frame it is not drawn at all
    assert shown_and_hidden(front, [back, front, own])[1].is_empty


def test_the_silhouette_of_a_disc():
    turn = np.radians(np.arange(0.0, 360.0, 5.0))
    rim = 6.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    flat = np.vstack([[0.0, 0.0], rim])
    faces = np.array([(0, n + 1, (n + 1) % len(rim) + 1) for n in range(len(rim))])
    assert silhouette(flat, faces).area == pytest.approx(np.pi * 36.0, rel=0.05)


def test_both_views_look_from_their_sides():
    # seen from the camera's right the eye is at +x; from above it is at up
    assert view_from_the_side(UP).toward_viewer == pytest.approx([1.0, 0.0, 0.0])
    assert view_from_above(UP).toward_viewer == pytest.approx(UP)


def test_a_face_whose_width_is_not_level_says_so():
    # at three o'clock the width of a face runs along the lens axis, which here rises by 40 degrees
    plan, shapes, _ = plan_of(a_set(40.0, lights=(flash("flash", 90.0, 3.0),), cards=()))
    said = " ".join(words(drawing_sheet(plan, shapes, BLOCK, PageOptions())[0]))
    assert "flash head 60 × 40 mm, width 40° off level" in said


def test_equal_plans_make_equal_sheets(tmp_path):
    for name in ("one", "two"):
        plan, shapes, _ = plan_of(a_set())
        write_pages(tmp_path / f"{name}.png", [drawing_sheet(plan, shapes, BLOCK, PageOptions(dpi=100.0))[0]])
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()


def test_labels_at_one_place_part_company():
    room = Room((0.0, 0.0, 80.0, 60.0))
    boxes = room.place([Label((40.0, 30.0), (16.0, 7.0)) for _ in range(9)])
    assert len(boxes) == 9
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert not overlap(one, other, 0.0)
    assert all(each[0] >= 0 and each[1] >= 0 and each[2] <= 80.5 and each[3] <= 60.5 for each in boxes)


def test_a_label_keeps_off_what_is_drawn():
    room = Room((0.0, 0.0, 80.0, 60.0))
    room.draw(np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 40.0], [0.0, 40.0]]))
    (place,) = room.place([Label((40.0, 35.0), (10.0, 4.0))])
    assert place[1] >= 39.0
