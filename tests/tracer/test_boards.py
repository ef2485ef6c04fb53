"""What cards and a backdrop take of the dome's light, and what they get of it.

Configuration factor from a point to a rectangle parallel to its plane, one corner of the rectangle straight
over the point, sides a and b in units of the distance between the planes:
F = [a / A atan(b / A) + b / B atan(a / B)] / (2 pi), A = sqrt(1 + a^2), B = sqrt(1 + b^2)
(textbooks of radiative heat transfer; from memory, so the formula is itself held against a sum over the
rectangle in the first test).
"""

from __future__ import annotations

from dataclasses import replace
from math import atan, pi, sqrt

import numpy as np
import pytest

from lightsim.scene.records import Backdrop, Card
from lightsim.tracer.prepared_scene import Ground
from tests.tracer.sets import plain_petal, simple

CARD = Card(angle_deg=0.0, distance_mm=200.0, width_mm=240.0, height_mm=160.0, reflectance=0.8)


def over_corner(a: float, b: float) -> float:
    one, other = sqrt(1.0 + a * a), sqrt(1.0 + b * b)
    return (a / one * atan(b / one) + b / other * atan(a / other)) / (2.0 * pi)


def over_centre(width: float, height: float, distance: float) -> float:
    return 4.0 * over_corner(0.5 * width / distance, 0.5 * height / distance)


def ground(**changes: object) -> Ground:
    return Ground(simple(plain_petal(0.5), **changes), 32, 4, 0)  # type: ignore[arg-type]


def middle_point(of: Ground) -> int:
    return int(np.argmin(np.sum(of.indirect.points.place**2, axis=-1)))


def test_the_formula_is_the_sum_over_the_rectangle():
    n = 400
    t = (np.arange(n) + 0.5) / n
    x, y = 0.6 * t[:, None], 0.4 * t[None, :]
    total = np.mean(1.0 / (1.0 + x * x + y * y) ** 2) * 0.6 * 0.4 / pi
    assert over_corner(0.6, 0.4) == pytest.approx(total, rel=1e-5)


def test_a_card_hides_its_share_of_the_dome():
    found = ground(cards=(CARD,))
    points, at = found.indirect.points, middle_point(found)
    hidden = over_centre(240.0, 160.0, 200.0)
    assert points.board[at, 0, 0] == pytest.approx(hidden, rel=0.01)
    assert points.dome[at, 0] == pytest.approx(1.0 - hidden, rel=0.005)
    assert points.board[at, 1, 0] == 0.0


def test_two_boards_face_to_face_throw_the_domes_light_at_one_another():
    """A card over a backdrop of the same size, a small petal between: E_card = 1 - F + F rho E_backdrop at
    the middle, and the other way round; the means are taken over the patches."""
    card = replace(CARD, width_mm=400.0, height_mm=400.0)
    backdrop = Backdrop(distance_mm=300.0, reflectance=(0.5, 0.5, 0.5))
    petal = replace(plain_petal(0.5), width_mm=2.0, length_mm=2.0, mesh_spacing_mm=0.2)
    both = Ground(simple(petal, cards=(card,), backdrop=backdrop), 32, 4, 0)
    alone = Ground(simple(petal, cards=(card,)), 32, 4, 0)
    assert alone.boards.card_glow([], True)[0] == pytest.approx(card.reflectance / pi, rel=0.01)
    e_card = both.boards.card_glow([], True)[0] * pi / card.reflectance
    e_back = both.boards.backdrop_glow([], True)[0][..., 0] * pi / 0.5
    face = both.stage.backdrop
    assert face is not None
    share = over_centre(2.0 * face.half_width_mm, 2.0 * face.half_height_mm, 500.0)
    middle = (slice(6, 10), slice(6, 10))
    expected = 1.0 - share + share * 0.5 * e_back.mean()
    assert e_card[middle].mean() == pytest.approx(expected, rel=0.02)
    assert e_card[middle].mean() < e_card.mean() < 1.0  # the middle sees most of the backdrop
