"""A small line chart as SVG within the page, which a script can put a marker on."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

WIDTH, HEIGHT = 320, 150
LEFT, RIGHT, TOP, BOTTOM = 38, 8, 10, 26
TICKS = 4


def small_chart(
    values: Sequence[float | None], labels: Sequence[str], title: str, unit: str, axis: str
) -> str:
    """A chart of values, one for each label along the bottom; a value of None leaves a gap.

    Places of the values stand in the attribute data-places, as "x,y" or "-", for the marker.
    """
    known = [value for value in values if value is not None]
    if not known:
        return ""
    low, high = min(known), max(known)
    low = 0.0 if 0.0 <= low < 0.6 * high else low
    span = (high - low) or 1.0
    wide, tall = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    xs = [LEFT + wide * (i + 0.5) / len(values) for i in range(len(values))]
    places = [
        None if value is None else (x, TOP + tall * (1.0 - (value - low) / span))
        for x, value in zip(xs, values, strict=True)
    ]
    parts = [
        f'<svg class="chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(title)}" '
        f'data-places="{" ".join("-" if p is None else f"{p[0]:.1f},{p[1]:.1f}" for p in places)}">'
    ]
    for i in range(TICKS):
        value = low + span * i / (TICKS - 1)
        y = TOP + tall * (1.0 - i / (TICKS - 1))
        parts.append(f'<line class="rule" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y + 3.5:.1f}" text-anchor="end">{value:.3g}</text>')
    every = max(1, -(-len(labels) // 7))
    for i, (x, label) in enumerate(zip(xs, labels, strict=True)):
        if i % every == 0:
            parts.append(f'<text x="{x:.1f}" y="{HEIGHT - 10}" text-anchor="middle">{escape(label)}</text>')
    for run in _runs(places):
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in run)
        parts.append(f'<polyline class="curve" points="{path}"/>')
        parts += [f'<circle class="point" cx="{x:.1f}" cy="{y:.1f}" r="1.8"/>' for x, y in run]
    parts.append('<circle class="marker" r="4.5" cx="-20" cy="-20"/></svg>')
    words = f"{title}, {unit}" if unit else title
    caption = f"<figcaption>{escape(words)}; along: {escape(axis)}</figcaption>"
    return f'<figure class="small">{"".join(parts)}{caption}</figure>'


def _runs(places: Sequence[tuple[float, float] | None]) -> list[list[tuple[float, float]]]:
    """The places in runs without gaps."""
    runs: list[list[tuple[float, float]]] = [[]]
    for place in places:
        if place is None:
            runs.append([])
        else:
            runs[-1].append(place)
    return [run for run in runs if run]
