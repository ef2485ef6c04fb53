"""The table of keys covers the records, and documents every key."""

from dataclasses import fields

import pytest

from lightsim.scene.file.keys import KEYS, SECTIONS
from lightsim.scene.file.layout import NOT_IN_FILE, sections, slots
from lightsim.scene.file.messages import allowed
from lightsim.scene.file.values import converted
from lightsim.scene.records import Light, Scene


@pytest.mark.parametrize("record", KEYS, ids=lambda record: record.__name__)
def test_every_field_of_a_record_has_a_rule_and_every_rule_a_field(record):
    names = {field.name for field in fields(record)} - NOT_IN_FILE
    nested = {slot.field for slot in slots(record).values() if slot.record is not None}
    assert set(KEYS[record]) - nested == names - nested


def test_sections_stand_in_the_order_of_a_file():
    headings = [section.shown for section in sections()]
    assert headings == [
        "",
        "[petal]",
        "[drops]",
        "[[drops.placed]]",
        "[camera]",
        "[camera.focus]",
        "[lens]",
        "[lens.stacked]",
        "[exposure]",
        "[[light]]",
        "[light.diffuser]",
        "[[card]]",
        "[ambient]",
        "[backdrop]",
        "[motion]",
        "[noise]",
    ]
    assert {section.record for section in sections()} - {Scene} == set(SECTIONS)


def test_defaults_are_allowed():
    for section in sections():
        for slot in slots(section.record).values():
            if slot.record is None and isinstance(slot.default, (int, float, str, tuple)):
                assert converted(slot.default, slot) == slot.default, (section.shown, slot.key)


def test_every_key_is_documented_and_lengths_say_their_unit():
    for section in sections():
        for slot in slots(section.record).values():
            if slot.record is not None:
                continue
            assert slot.rule.about, (section.shown, slot.key)
            assert allowed(slot), (section.shown, slot.key)
            for ending, unit in (("_mm", "mm"), ("_deg", "degrees")):
                assert not slot.key.endswith(ending) or slot.rule.unit == unit, (section.shown, slot.key)


def test_what_is_allowed_is_said_with_limits_and_unit():
    assert allowed(slots(Light)["angle_deg"]) == "a number from 0 to 180 degrees"
