"""A short run of the fuzz by a fixed seed; `python -m tests.fuzz` is the long one."""

from __future__ import annotations

from tests.fuzz.trial import fuzz, trial_of

COUNT, SEED = 200, 20


def test_mutated_scenes_end_in_an_answer_or_in_one_sentence(tmp_path):
    faults, ends = fuzz(COUNT, SEED, tmp_path)
    assert not faults, "\n\n".join(faults)
    assert ends[0] > COUNT // 20  # not all are refused
    assert ends[2] > COUNT // 3


def test_a_seed_always_makes_the_same_trial():
    assert trial_of("1-2") == trial_of("1-2")
    assert len({trial_of(f"1-{number}").text for number in range(50)}) > 40
