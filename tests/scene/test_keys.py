"""The table of keys covers the records, and documents every key."""

from dataclasses import fields

import pytest

from lightsim.scene.file.key_notes import describe_keys
from lightsim.scene.file.keys import KEYS, SECTIONS
from lightsim.scene.file.layout import NOT_IN_FILE, sections, slots
from lightsim.scene.file.values import converted
from lightsim.scene.records import Scene


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


def test_every_key_is_documented():
    notes = describe_keys()
    assert {note.section for note in notes} == {section.shown for section in sections()}
    assert all(note.about and note.allowed and note.default for note in notes)
    angle = next(note for note in notes if (note.section, note.key) == ("[[light]]", "angle_deg"))
    assert angle.unit == "degrees"
    assert angle.default == "75"
    assert angle.allowed == "a number from 0 to 180 degrees"


def test_keys_that_are_lengths_say_so():
    for note in describe_keys():
        if note.key.endswith("_mm"):
            assert note.unit == "mm", note
        if note.key.endswith("_deg"):
            assert note.unit == "degrees", note
