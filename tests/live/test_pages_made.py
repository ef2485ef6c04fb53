"""Pages made of kept pictures: from their own settings, by their own names, over nothing."""

import csv
from dataclasses import replace

import pytest

from lightsim.errors import LightsimError
from lightsim.live.desk import Desk
from lightsim.live.pages_made import make_page
from lightsim.live.scene_draft import table_of
from lightsim.runs.comparison.compare import Comparison
from lightsim.runs.preview import preview
from lightsim.scene.file.read import load_scene
from lightsim.scene.settings.quantities import change_scene


@pytest.fixture
def kept(scene_file, monkeypatch):
    """A small set as it was kept three times, with nothing alike: light, exposure, water."""
    monkeypatch.setattr("lightsim.runs.setup_plan.PICTURE_PX", 96)
    monkeypatch.setattr("lightsim.runs.handout.handout.WIDTH_PX", 160)
    scene = load_scene(scene_file)
    scene = replace(scene, camera=replace(scene.camera, width_px=96), path=scene_file)
    bright = replace(scene, title="bright", exposure=replace(scene.exposure, iso=200.0))
    dry = replace(scene, title="dry", drops=replace(scene.drops, count=2))
    return [
        change_scene(bright, {"angle": 80.0}, "flash"),
        replace(change_scene(scene, {"clock": 2.0, "distance": 150.0}, "flash"), title="from the right"),
        dry,
    ]


def test_a_contact_sheet_shows_each_picture_with_its_own_settings(kept, scene_file):
    page, table = make_page("contact sheet", kept[0], kept, scene_file.parent, "small")
    assert page.name == "small-sheet.png"
    with table.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["picture"] for row in rows] == ["bright", "from the right", "dry"]
    assert [float(row["iso"]) for row in rows] == [200.0, 100.0, 100.0]
    assert [float(row["light_clock"]) for row in rows] == [10.0, 2.0, 10.0]
    for row, scene in zip(rows, kept, strict=True):
        alone = preview(scene).frame.measures
        assert float(row["petal_stops_from_mid_tone"]) == pytest.approx(alone.petal_stops_from_mid_tone)


@pytest.mark.parametrize(
    ("what", "named", "pictures"),
    [
        ("contact sheet", "small-sheet", 2),
        ("comparison", "small-compare", 2),
        ("plan", "small-plan", 1),
        ("handout", "small-handout", 2),
    ],
)
def test_a_page_is_written_beside_the_scene_and_a_second_one_beside_the_first(
    kept, scene_file, what, named, pictures
):
    before, kept = scene_file.read_bytes(), kept[:pictures]
    first = make_page(what, kept[0], kept, scene_file.parent, "small")
    assert first[0].stem == named
    assert all(path.exists() and path.parent == scene_file.parent for path in first)
    second = make_page(what, kept[0], kept, scene_file.parent, "small")
    assert not set(first) & set(second)
    assert scene_file.read_bytes() == before
    left = {path for path in scene_file.parent.iterdir() if path != scene_file}
    assert left == {*first, *second}


def test_a_comparison_has_the_set_s_title_and_not_the_first_picture_s(kept, scene_file, monkeypatch):
    made, page = [], Comparison.page
    monkeypatch.setattr(Comparison, "page", lambda *given: made.append(page(*given)) or made[-1])
    make_page("comparison", kept[0], kept[:2], scene_file.parent, "small-set")
    assert made[0].title == "Small set"


def test_a_handout_names_each_picture(kept, scene_file):
    (page,) = make_page("handout", kept[0], kept, scene_file.parent, "small")
    text = page.read_text(encoding="utf-8")
    assert all(f"<h2>{scene.title}</h2>" in text for scene in kept)


def test_a_plan_shows_what_was_kept_and_the_set_where_nothing_was(kept, scene_file):
    (several,) = make_page("plan", kept[0], kept[:2], scene_file.parent, "small")
    (one,) = make_page("plan", kept[0], [], scene_file.parent, "small")
    assert pages_of(several) == 2 * pages_of(one)


def pages_of(path):
    """How many pages a PDF holds."""
    return path.read_bytes().count(b"/Type /Page\n") + path.read_bytes().count(b"/Type /Page ")


@pytest.mark.parametrize("what", ["poster", "comparison", "contact sheet", "handout"])
def test_what_cannot_be_made_is_said(kept, scene_file, what):
    with pytest.raises(LightsimError, match="allowed"):
        make_page(what, kept[0], kept[:1], scene_file.parent, "small")


@pytest.mark.parametrize("entry", [3, {}, {"name": "a"}, {"name": 1, "table": {}}, {"name": "a", "table": 1}])
def test_kept_pictures_are_checked(kept, entry):
    desk = Desk(kept[0], lambda *_: None, lambda _: None)
    with pytest.raises(LightsimError, match="allowed one with both"):
        desk.act({"kind": "make", "what": "comparison", "kept": [entry, entry]})


def test_the_names_that_pictures_were_kept_by_head_them(kept, scene_file):
    told = []
    desk = Desk(kept[0], lambda *_: None, told.append)
    entries = [
        {"name": "  one\nlight ", "table": table_of(kept[0])},
        {"name": "", "table": table_of(kept[1])},
    ]
    desk.act({"kind": "make", "what": "contact sheet", "kept": entries})
    table = scene_file.parent / told[-1]["files"][-1]
    with table.open(encoding="utf-8") as file:
        assert [row["picture"] for row in csv.DictReader(file)] == ["one light", "from the right"]
