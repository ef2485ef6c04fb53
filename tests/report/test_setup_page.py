"""The page: what is written on it, that nothing runs over anything else, and its files."""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest
from PIL import Image

from lightsim.report.drawing.grey_card import INK, SMALLEST_PT
from lightsim.report.setup.labels import Label, Line, Room
from lightsim.report.setup.page import draw_page
from lightsim.report.setup.plan_records import Caution
from tests.report.sets import TRAIN, a_set, crowd, far_away, flash, hard, plan_of

PICTURE = np.full((32, 48, 3), (150, 90, 110), np.uint8)
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
def page(request):
    """A page of each set, without the 3-D view, with its plan and solids."""
    plan, shapes, _ = plan_of(SETS[request.param](), CAUTIONS)
    return draw_page(plan, shapes, PICTURE, with_3d=False), plan, shapes


def words(paper):
    return [each.text for each in paper.texts]


def over(one, other, slack=0.05):
    return (
        min(one[2], other[2]) - max(one[0], other[0]) > slack
        and min(one[3], other[3]) - max(one[1], other[1]) > slack
    )


def test_no_words_run_over_others_or_off_the_page(page):
    paper, _, _ = page
    for one, other in combinations(paper.texts, 2):
        # ascenders and descenders of neighbouring lines may share a hair's breadth
        assert not over(one.box, other.box, 0.25), (one.text, other.text)
    for each in paper.texts:
        left, top, right, bottom = each.box
        assert left >= 4.0, each.text
        assert top >= 4.0, each.text
        assert right <= 206.0, each.text
        assert bottom <= paper.height_mm - 4.0, each.text


def test_all_words_are_large_enough_to_read(page):
    paper, _, _ = page
    assert min(each.points for each in paper.texts) >= SMALLEST_PT


def test_drawings_and_table_name_every_place_with_its_numbers(page):
    paper, plan, shapes = page
    said = words(paper)
    for place in plan.places:
        assert any(text.startswith(place.name) for text in said)
        if place.distance_mm > 10_000.0:
            continue
        assert f"{place.distance_mm:.0f} mm" in said  # the table: straight from the subject
        if round(abs(place.up_mm)):
            arrow = "↑" if place.up_mm > 0 else "↓"
            assert any(text.startswith(f"{arrow} {abs(place.up_mm):.0f} mm, ") for text in said), place.name
            assert f"{abs(place.up_mm):.0f} {'above' if place.up_mm > 0 else 'below'}" in said
        if round(abs(place.right_mm)):
            assert any(
                text.startswith(f"{'→' if place.right_mm > 0 else '←'} {abs(place.right_mm):.0f}")
                for text in said
            ), place.name
    assert f"{plan.camera.front_mm:.0f} mm to the lens" in said
    assert any(text.startswith(f"{shapes.subject_above_table_mm:.0f} mm or more") for text in said)
    down = plan.camera.looks_down_deg
    tilt = "camera level" if down == 0 else f"camera {'down' if down > 0 else 'up'} {abs(down):g}°"
    assert tilt in said


def test_the_scale_that_is_written_is_the_scale_that_is_drawn(page):
    paper, _, _ = page
    bars = [re.fullmatch(r"(\d+) mm", each.text) for each in paper.texts]
    bars = [(each, int(found[1])) for each, found in zip(paper.texts, bars, strict=True) if found]
    ratios = [each for each in paper.texts if each.text.endswith(" on A4")]
    assert len(ratios) == 2
    for ratio in ratios:
        number = float(ratio.text.split()[2])
        # the bar stands below the same drawing, its words 1.5 mm after its end
        below = [
            bar for bar in bars if bar[0].box[1] > ratio.box[1] and abs(bar[0].box[0] - ratio.box[0]) < 100.0
        ]
        lengths = [self_length(paper, bar) * number for bar in below]
        assert any(abs(found - bar[1]) < 0.02 * bar[1] for found, bar in zip(lengths, below, strict=True))


def self_length(paper, bar):
    """Length on the page, mm, of the level line that ends 1.5 mm before the bar's words."""
    left, _, _, bottom = bar[0].box
    for line in paper.axes.lines:
        xs, ys = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
        if len(xs) == 2 and ys[0] == ys[1] and abs(xs[1] + 1.5 - left) < 0.01 and abs(ys[0] - bottom) < 3.0:
            return float(xs[1] - xs[0])
    return 0.0


def test_cautions_stand_on_the_page_and_at_their_cause(page):
    paper, plan, _ = page
    said = words(paper)
    assert "⚠ 1" in said
    assert "Hold it up." in said
    assert "Ask those who know." in said
    assert "camera ⚠" in said
    flashes = [place.name for place in plan.places if place.name in ("flash", "key")]
    for name in flashes:
        assert any(text.startswith(f"{name} ⚠ 1") for text in said)
    for place in plan.places:
        if place.name not in ("flash", "key"):
            assert not any(text.startswith(f"{place.name} ⚠") for text in said)


def test_what_is_too_far_away_is_pointed_at_in_metres():
    plan, shapes, _ = plan_of(far_away())
    said = words(draw_page(plan, shapes, with_3d=False))
    assert "1000 m" in said
    assert said.count("1000 m away, off the drawing") == 2  # on both drawings
    assert said.count("2000 mm away, off the drawing") == 2


def test_a_page_is_a_sheet_of_a4_in_both_kinds_of_file(tmp_path):
    plan, shapes, _ = plan_of(hard(), CAUTIONS)
    paper = draw_page(plan, shapes, PICTURE, with_3d=False)
    paper.write_png(tmp_path / "page.png")
    paper.write_pdf(tmp_path / "page.pdf", "a title")
    # ISO 216: 210 x 297 mm; at 300 dots per inch 2480 x 3508
    with Image.open(tmp_path / "page.png") as picture:
        assert picture.size == (2480, 3508)
        assert picture.info["dpi"] == pytest.approx((300.0, 300.0), abs=0.1)
    data = (tmp_path / "page.pdf").read_bytes()
    assert data.startswith(b"%PDF-1.")
    assert data.rstrip().endswith(b"%%EOF")
    assert re.search(rb"/Type /Pages[^>]*/Count 1|/Count 1[^>]*/Type /Pages", data)
    # 72 points an inch: 595 x 842
    width, height = map(float, re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data).groups())
    assert (width, height) == pytest.approx((595.3, 841.9), abs=0.3)
    assert b"/FontFile2" in data  # its lettering is lettering, with the typeface within
    assert b"(a title)" in data


def test_a_face_whose_width_is_not_level_says_so():
    # at three o'clock the width of a face runs along the lens axis, which here rises by 40 degrees
    plan, shapes, _ = plan_of(a_set(40.0, lights=(flash("flash", 90.0, 3.0),), cards=()))
    said = " ".join(words(draw_page(plan, shapes, with_3d=False)))
    assert "flash head 60 × 40 mm, width 40° off level" in said


def test_equal_plans_make_equal_pages(tmp_path):
    for name in ("one", "two"):
        plan, shapes, _ = plan_of(a_set())
        paper = draw_page(plan, shapes, PICTURE, with_3d=False)
        paper.write_png(tmp_path / f"{name}.png")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()


def test_a_page_without_cautions_or_picture_still_stands():
    plan, shapes, _ = plan_of(a_set())
    paper = draw_page(plan, shapes, None, with_3d=False)
    assert not any("⚠" in text for text in words(paper))
    assert paper.pictures == []


def test_labels_at_one_place_part_company():
    room = Room((0.0, 0.0, 80.0, 60.0))
    labels = [Label((40.0, 30.0), (Line(f"label {n}", INK, True), Line("25 mm", INK)), 8.0) for n in range(9)]
    boxes = room.place(labels)
    assert len(boxes) == 9
    for one, other in combinations(boxes, 2):
        assert not over(one, other)
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= 80.5 and box[3] <= 60.5 for box in boxes)


def test_a_label_keeps_off_what_is_drawn():
    room = Room((0.0, 0.0, 80.0, 60.0))
    room.draw(np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 40.0], [0.0, 40.0]]))
    (box,) = room.place([Label((40.0, 35.0), (Line("low", INK),), 8.0)])
    assert box[1] >= 39.0
