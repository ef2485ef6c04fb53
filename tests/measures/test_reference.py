"""The reference drop: what makes a drop fit to be shown enlarged (our rule, no source)."""

from __future__ import annotations

import pytest

from lightsim.measures import choose_reference
from tests.report.samples import drop_maps

SHAPE = (80, 120)


def chosen(
    centres: list[tuple[float, float]], radii: list[float], blurs: list[float] | None = None
) -> int | None:
    maps = drop_maps(centres, radii, blurs)
    return choose_reference(maps.drops, SHAPE, drop_index=maps.drop_index)


def test_the_larger_of_two_drops_alike_is_chosen() -> None:
    assert chosen([(45.0, 40.0), (75.0, 40.0)], [8.0, 12.0]) == 1


def test_a_sharp_drop_is_preferred_to_a_larger_blurred_one() -> None:
    assert chosen([(45.0, 40.0), (75.0, 40.0)], [8.0, 14.0], [0.5, 9.0]) == 0


def test_a_drop_near_the_middle_is_preferred() -> None:
    assert chosen([(15.0, 15.0), (60.0, 40.0)], [10.0, 10.0]) == 1


def test_a_drop_cut_by_the_frame_is_not_chosen() -> None:
    assert chosen([(60.0, 5.0), (20.0, 60.0)], [12.0, 4.0]) == 1


def test_a_hidden_drop_is_not_chosen_where_it_is_known_what_each_pixel_sees() -> None:
    # the second disc covers the first almost wholly
    centres, radii = [(60.0, 40.0), (61.0, 40.0), (90.0, 40.0)], [10.0, 10.0, 9.0]
    assert chosen(centres, radii) == 1
    assert choose_reference(drop_maps(centres, radii).drops, SHAPE) == 0


def test_a_drop_that_may_not_serve_is_passed_over() -> None:
    drops = drop_maps([(45.0, 40.0), (75.0, 40.0)], [8.0, 12.0]).drops
    assert choose_reference(drops, SHAPE, usable=[True, False]) == 0
    assert choose_reference(drops, SHAPE, usable=[False, False]) is None


@pytest.mark.parametrize(("centres", "radii"), [([], []), ([(2.0, 2.0)], [9.0]), ([(60.0, 40.0)], [0.8])])
def test_there_may_be_no_drop_to_show(centres: list, radii: list) -> None:
    assert chosen(centres, radii) is None
