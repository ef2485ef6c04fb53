"""The second thread that finishes one frame while the next is traced."""

from __future__ import annotations

import threading

import pytest

from lightsim.errors import LightsimError, SceneError
from lightsim.runs.job import Worker


def failing(words):
    def work():
        raise LightsimError(words)

    return work


def test_pieces_are_done_in_their_order_by_one_other_thread():
    done, threads = [], set()

    def piece(number):
        def work():
            threads.add(threading.get_ident())
            done.append(number)

        return work

    with Worker() as worker:
        for number in range(20):
            worker.give(piece(number))
    assert done == list(range(20))
    assert len(threads) == 1
    assert threading.get_ident() not in threads


def test_the_giver_goes_on_and_no_more_than_one_piece_is_in_hand():
    go, begun, counts = threading.Event(), threading.Event(), []

    def first():
        begun.set()
        assert go.wait(10.0)
        counts.append("first")

    with Worker() as worker:
        worker.give(first)
        assert begun.wait(10.0)
        assert counts == []  # it is under way, and we are here
        threading.Timer(0.05, go.set).start()
        worker.give(lambda: counts.append("second"))
        assert counts[0] == "first"  # waited for before the second was taken
    assert counts == ["first", "second"]


def test_an_error_comes_back_as_it_is_with_the_next_piece_which_is_not_begun():
    done = []

    def two_pieces():
        with Worker() as worker:
            worker.give(failing("one clear sentence"))
            worker.give(lambda: done.append(1))

    with pytest.raises(LightsimError, match=r"^one clear sentence$"):
        two_pieces()
    assert done == []


def test_an_error_of_the_last_piece_is_raised_at_the_end():
    with pytest.raises(LightsimError, match=r"^the last$"), Worker() as worker:
        worker.give(failing("the last"))


def test_an_error_is_seen_by_a_look_once_it_has_happened():
    failed = threading.Event()

    def work():
        try:
            raise LightsimError("seen")
        finally:
            failed.set()

    def look_often():
        with Worker() as worker:
            worker.check()
            worker.give(work)
            assert failed.wait(10.0)
            for _ in range(1000):
                worker.check()
                threading.Event().wait(0.01)
            raise AssertionError("the error was not seen")

    with pytest.raises(LightsimError, match=r"^seen$"):
        look_often()


def test_of_two_errors_that_of_the_piece_is_told_since_it_came_first():
    def both():
        with Worker() as worker:
            worker.give(failing("frame 1"))
            raise SceneError("frame 2")

    with pytest.raises(LightsimError, match=r"^frame 1$"):
        both()


def test_after_an_interruption_the_piece_in_hand_is_finished_and_its_error_does_not_hide_it():
    go, done = threading.Event(), []

    def slow():
        assert go.wait(10.0)
        done.append(1)

    def interrupted(work):
        with Worker() as worker:
            worker.give(work)
            threading.Timer(0.05, go.set).start()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted(slow)
    assert done == [1]
    with pytest.raises(KeyboardInterrupt):
        interrupted(failing("not told"))


def test_two_pieces_may_be_under_way_and_a_third_waits():
    go, both, done = threading.Event(), threading.Barrier(3), []

    def piece():
        both.wait(10.0)
        assert go.wait(10.0)
        done.append(1)

    with Worker(most=2) as worker:
        worker.give(piece)
        worker.give(piece)
        both.wait(10.0)  # both have begun, at the same time
        threading.Timer(0.05, go.set).start()
        worker.give(lambda: done.append(2))
        assert done.count(1) >= 1
    assert sorted(done) == [1, 1, 2]


def test_of_two_pieces_under_way_the_first_error_is_raised():
    def two_pieces():
        with Worker(most=2) as worker:
            worker.give(failing("first"))
            worker.give(failing("second"))

    with pytest.raises(LightsimError, match="first"):
        two_pieces()
