"""The glossary, and numbers in the trade's words."""

from __future__ import annotations

import doctest

import pytest

from lightsim.errors import LightsimError
from lightsim.report import words
from lightsim.report.terms import GLOSSARY, term_named


def test_the_glossary_explains_at_least_twenty_terms_in_sentences():
    assert len(GLOSSARY) >= 20
    assert all(text.endswith(".") and text[0].isupper() for text in GLOSSARY.values())


def test_a_term_is_found_by_a_part_of_its_name():
    assert term_named("guide number")[0] == "guide number"
    assert term_named("Working")[0] == "working distance"


def test_a_term_that_there_is_not_is_told_the_nearest():
    with pytest.raises(LightsimError, match="found no term 'difraction', allowed such as diffraction"):
        term_named("difraction")


def test_the_examples_of_the_words_hold():
    assert doctest.testmod(words).failed == 0


@pytest.mark.parametrize(
    ("reflectance", "kind"),
    [
        (0.85, "white card"),
        (0.6, "white card"),
        (0.18, "grey card"),
        (0.04, "black flag"),
        (0.0, "black flag"),
    ],
)
def test_a_card_is_called_by_what_it_is(reflectance, kind):
    assert words.card_kind(reflectance) == kind
