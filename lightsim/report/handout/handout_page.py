"""A handout: one HTML file that holds everything, works without a network, and reads without its script."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterator, Sequence
from hashlib import sha256
from html import escape
from importlib.resources import files
from typing import Any

from lightsim.optics.marks import FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES, Series
from lightsim.report.handout.handout_records import HandoutPage, HandoutSet, Section
from lightsim.report.style_sheet import base_css, css_variables, font_face_css
from lightsim.report.theme import RGB8
from lightsim.report.viewer.viewer_numbers import collect_viewer_numbers

# The viewer's scripts in an order in which each needs only those before it.
VIEWER_SCRIPTS = (
    "half_floats.js", "tone.js", "noise.js", "exposure.js", "canvas_painter.js", "webgl_painter.js",
    "viewer.js", "packed_layer.js",
)  # fmt: skip
DIALS = {"power": FLASH_POWERS, "shutter": SHUTTER_TIMES, "iso": ISO_SPEEDS}
FRAME_DATA = (
    "heading", "trade_name", "layers", "petal", "effective_f_number", "iso", "shutter_s", "outputs",
    "numbers", "warning",
)  # fmt: skip
DARK_PLAN = "@media screen {.plan {filter: invert(.92) hue-rotate(180deg)}}\n"
# key, what the chart is of, its unit
CHARTS = (
    ("petal_contrast_stops", "Petal contrast", "stops"),
    ("texture_fine_rms", "Texture", "RMS contrast"),
    ("highlight_place_share_median", "Highlight from the drop’s centre", "share of the way to the rim"),
)


def handout_html(page: HandoutPage, petal: RGB8 | None = None, ground: str = "light") -> str:
    """The whole file. petal : sRGB of the petal, whose hue the accent takes."""
    style = font_face_css() + css_variables(ground, petal) + base_css() + _read("handout", "handout.css")
    if ground == "dark":  # paper stays white, and the plan is drawn on paper
        style += f"@media print {{{css_variables('light', petal)}}}\n{DARK_PLAN}"
    script = _script()
    sets = [section.shown for section in page.sections if section.shown is not None]
    data = json.dumps(
        {
            "numbers": collect_viewer_numbers(),
            "marks": {name: _marks(series) for name, series in DIALS.items()},
            "sets": [_set_data(each) for each in sets],
        },
        separators=(",", ":"),
    ).replace("<", "\\u003c")
    policy = (
        f"default-src 'none'; img-src data:; font-src data:; script-src '{_hash(script)}'; "
        f"style-src '{_hash(style)}'; base-uri 'none'; form-action 'none'"
    )
    body = "".join(_body(page))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        f"<title>{escape(page.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n{body}"
        f'<script type="application/json" id="data">{data}</script>\n'
        f'<script type="module">{script}</script>\n</body>\n</html>\n'
    )


def _body(page: HandoutPage) -> Iterator[str]:
    yield f"<header><h1>{escape(page.title)}</h1></header>\n<main>\n"
    number = 0
    for section in page.sections:
        yield from _section(section, number)
        number += section.shown is not None
    if page.plan is not None:
        yield "<section><h2>Plan of the set-up</h2>"
        picture = f'<img class="plan" src="{_data_url(page.plan)}" alt="{escape(page.plan_words)}">'
        yield f"<figure>{picture}</figure></section>\n"
    if page.cautions:
        points = "".join(f"<li>{escape(words)}</li>" for words in page.cautions)
        yield f"<section><h2>Water, flash and lenses</h2><ul>{points}</ul></section>\n"
    if page.terms:
        terms = "".join(f"<dt>{escape(term)}</dt><dd>{escape(words)}</dd>" for term, words in page.terms)
        yield f'<section class="glossary"><h2>Words</h2><dl>{terms}</dl></section>\n'
    yield "</main>\n"


def _section(section: Section, number: int) -> Iterator[str]:
    yield "<section>"
    if section.heading:
        yield f"<h2>{escape(section.heading)}</h2>"
    yield section.text
    if section.shown is not None:
        yield from _set(section.shown, number)
    if section.question:
        yield f'<div class="question">{section.question}</div>'
    if section.answer:
        yield f"<details><summary>Answer</summary>{section.answer}</details>"
    yield "</section>\n"


def _set(shown: HandoutSet, number: int) -> Iterator[str]:
    """The set's viewer, which the script fills, and all that reads without it."""
    label = escape(shown.title)
    if shown.about:
        yield f"<p>{escape(shown.about)}</p>"
    yield f'<div class="viewer" data-set="{number}" hidden><figure><div class="mat">'
    size = f'width="{shown.width_px}" height="{shown.height_px}"'
    yield f'<canvas role="img" aria-label="{label}" {size}></canvas>'
    yield '</div><figcaption class="caption" aria-live="polite"></figcaption></figure>'
    yield '<div class="controls"></div><dl class="measured"></dl></div>'
    yield f'<div class="charts">{"".join(_charts(shown))}</div>'
    yield f'<p class="quiet">{escape(shown.setting_words)}</p>'
    yield '<ol class="plates">'
    for frame in shown.frames:
        name = f"{frame.heading} {frame.trade_name}".strip()
        words = "; ".join(f"{what} {said}" for _, what, said in frame.numbers)
        warning = f' <strong class="warning">{escape(frame.warning)}</strong>' if frame.warning else ""
        yield (
            f'<li><figure><div class="mat"><img loading="lazy" {size} src="{_data_url(frame.picture)}" '
            f'alt="{escape(f"{shown.title}, {name}")}"></div><figcaption><b>{escape(name)}</b> '
            f'<span class="quiet">{escape(words)}</span>{warning}</figcaption></figure></li>'
        )
    yield "</ol>"


def _charts(shown: HandoutSet) -> Iterator[str]:
    if len(shown.axes) != 1 or len(shown.frames) < 3:
        return
    axis, _, labels = shown.axes[0]
    for key, title, unit in CHARTS:
        yield small_chart([frame.plotted.get(key) for frame in shown.frames], labels, title, unit, axis)


def _set_data(shown: HandoutSet) -> dict[str, Any]:
    return {
        "title": shown.title,
        "width": shown.width_px,
        "height": shown.height_px,
        "axes": [{"name": name, "key": key, "values": list(values)} for name, key, values in shown.axes],
        "lights": list(shown.lights),
        "settings": shown.settings,
        "first": shown.first,
        "layers": {
            key: {
                "data": b64encode(planes.data).decode("ascii"),
                "brightest": planes.brightest,
                "top": planes.top,
                "steps": planes.steps_per_stop,
            }
            for key, planes in shown.layers.items()
        },
        "frames": [{name: getattr(frame, name) for name in FRAME_DATA} for frame in shown.frames],
    }


def _marks(series: Series) -> list[dict[str, Any]]:
    """The marks of a dial in order of their exact numbers."""
    marks = [
        {"label": label, "value": series.exact_at(third)}
        for label, third in zip(series.labels, series.thirds, strict=True)
    ]
    return sorted(marks, key=lambda mark: float(mark["value"]))


def _script() -> str:
    """The viewer and the handout's own script as one module."""
    texts = [_read("viewer", name) for name in VIEWER_SCRIPTS] + [_read("handout", "handout.js")]
    lines = [line for text in texts for line in text.splitlines() if not line.startswith("import ")]
    return "\n".join(line.removeprefix("export ") for line in lines) + "\n"


def _read(folder: str, name: str) -> str:
    return (files("lightsim.report") / folder / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode("ascii")


def _data_url(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + b64encode(jpeg).decode("ascii")


WIDTH, HEIGHT = 320, 150
LEFT, RIGHT, TOP, BOTTOM = 38, 8, 10, 26
MOST_INTERVALS = 5


def small_chart(
    values: Sequence[float | None], labels: Sequence[str], title: str, unit: str, axis: str
) -> str:
    """A chart of values, one for each label along the bottom; a value of None leaves a gap.

    Places of the values stand in the attribute data-places, as "x,y" or "-", for the marker.
    """
    known = [value for value in values if value is not None]
    if not known:
        return ""
    ticks = _round_ticks(known)
    low, span = ticks[0], ticks[-1] - ticks[0]
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
    for value in ticks:
        y = TOP + tall * (1.0 - (value - low) / span)
        parts.append(f'<line class="rule" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y + 3.5:.1f}" text-anchor="end">{value:.6g}</text>')
    every = max(1, -(-len(labels) // 7))
    for i, (x, label) in enumerate(zip(xs, labels, strict=True)):
        if i % every == 0:
            parts.append(f'<text x="{x:.1f}" y="{HEIGHT - 10}" text-anchor="middle">{escape(label)}</text>')
    for run in _runs(places):
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in run)
        parts.append(f'<polyline class="curve" points="{path}"/>')
        parts += [f'<circle class="point" cx="{x:.1f}" cy="{y:.1f}" r="1.8"/>' for x, y in run]
    parts.append('<circle class="marker" r="4.5" cx="-20" cy="-20"/></svg>')
    caption = f"<figcaption>{escape(f'{title} ({unit}) by {axis}')}</figcaption>"
    return f'<figure class="small">{"".join(parts)}{caption}</figure>'


def _round_ticks(known: Sequence[float]) -> list[float]:
    """Round numbers about the values, from nought where that is not far below them."""
    from matplotlib.ticker import MaxNLocator

    low, high = min(known), max(known)
    low = 0.0 if 0.0 <= low < 0.6 * high else low
    high = high if high > low else low + 1.0
    return list(MaxNLocator(MOST_INTERVALS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high))


def _runs(places: Sequence[tuple[float, float] | None]) -> list[list[tuple[float, float]]]:
    """The places in runs without gaps."""
    runs: list[list[tuple[float, float]]] = [[]]
    for place in places:
        if place is None:
            runs.append([])
        else:
            runs[-1].append(place)
    return [run for run in runs if run]
