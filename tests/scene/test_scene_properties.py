"""Any scene in range loads and comes back the same; anything out of range is told in one sentence."""

import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightsim.errors import SceneError
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.layout import sections, slots
from lightsim.scene.file.read import scene_from_dict
from lightsim.scene.file.write import brief_toml, scene_to_toml
from tests.scene.tables import scene_tables

PLAIN = [
    (section, slot)
    for section in sections()
    for slot in slots(section.record).values()
    if slot.record is None
]
NUMBERS = [
    (section, slot) for section, slot in PLAIN if slot.kind in ("number", "whole", "numbers", "wholes")
]


@given(scene_tables())
@settings(max_examples=60, deadline=None)
def test_any_scene_in_range_loads_and_comes_back_the_same(table):
    scene = scene_from_dict(table)
    assert check_scene(scene) == scene
    assert scene_from_dict(tomllib.loads(scene_to_toml(scene))) == scene
    assert scene_from_dict(tomllib.loads(brief_toml(scene, {}))) == scene


def spoilt(section, slot, value):
    """A scene that is allowed but for one key, and the place of that key."""
    table = {"light": [{"name": "a", "guide_number_m": 20}]}
    at, where = table, ""
    for part in section.heading.split(".") if section.heading else []:
        where = f"{where}.{part}" if where else part
        if part in ("light", "card", "placed"):
            at = at.setdefault(part, [{}])[0]
            where += "[0]"
        else:
            at = at.setdefault(part, {})
    if section.heading == "drops.placed":
        at.update(x_mm=0.0, y_mm=0.0, diameter_mm=1.0)
    at[slot.key] = value
    return table, f"{where}.{slot.key}" if where else slot.key


def beyond(slot):
    """Numbers that the key does not allow."""
    if slot.key == "angle_deg":  # any angle up to two turns means a direction
        return st.one_of(st.floats(max_value=-720.1), st.floats(min_value=720.1), st.just(math.nan))
    low = slot.rule.low if slot.rule.above else math.nextafter(slot.rule.low, -math.inf)
    reals = st.one_of(
        st.floats(max_value=low),
        st.floats(min_value=slot.rule.high, exclude_min=True),
        st.sampled_from([math.nan, math.inf, -math.inf]),
    )
    wholes = st.one_of(
        st.integers(max_value=math.ceil(slot.rule.low) - 1), st.integers(int(slot.rule.high) + 1)
    )
    return wholes if slot.kind in ("whole", "wholes") else reals


@given(st.data())
@settings(max_examples=300, deadline=None)
def test_a_number_out_of_range_is_told_in_one_sentence(data):
    section, slot = data.draw(st.sampled_from(NUMBERS))
    value = data.draw(beyond(slot))
    if slot.kind in ("numbers", "wholes"):
        middle = 0.5 * (slot.rule.low + slot.rule.high)
        value = [int(middle) if slot.kind == "wholes" else middle] * (slot.length - 1) + [value]
    check_told_once(section, slot, value)


@given(st.data())
@settings(max_examples=300, deadline=None)
def test_a_value_of_the_wrong_type_is_told_in_one_sentence(data):
    section, slot = data.draw(st.sampled_from(PLAIN))
    wrong = {
        "number": st.one_of(st.booleans(), st.lists(st.floats()), st.text("xyz"), st.just({})),
        "whole": st.one_of(st.booleans(), st.floats(), st.text("xyz"), st.just([])),
        "numbers": st.one_of(
            st.booleans(), st.text("xyz"), st.lists(st.text(), min_size=3, max_size=3), st.just({})
        ),
        "wholes": st.one_of(
            st.integers(), st.text("xyz"), st.lists(st.floats(), min_size=2, max_size=2), st.just({})
        ),
        "flag": st.one_of(st.integers(), st.text(), st.just([])),
        "text": st.one_of(st.integers(), st.booleans(), st.just([]), st.just({})),
        "file": st.one_of(st.integers(), st.booleans(), st.just([])),
        "named number": st.one_of(st.booleans(), st.just([]), st.just({}), st.text("xyz", min_size=4)),
    }
    check_told_once(section, slot, data.draw(wrong[slot.kind]))


def check_told_once(section, slot, value):
    table, where = spoilt(section, slot, value)
    with pytest.raises(SceneError) as caught:
        scene_from_dict(table)
    (sentence,) = caught.value.problems
    assert sentence.startswith(f"{where}: found ")
    assert ", allowed " in sentence
    assert "\n" not in sentence


NESTED = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=12,
)


@given(NESTED.filter(lambda data: data != {}))
@settings(max_examples=200, deadline=None)
def test_nested_data_of_any_kind_is_told_as_a_problem(data):
    with pytest.raises(SceneError) as caught:
        scene_from_dict({"petal": data, "camera": {"focus": data}, "exposure": {"iso": data}})
    places = {sentence.split(":")[0].split(".")[0] for sentence in caught.value.problems}
    assert places >= {"petal", "camera"}
