"""What holds of every page: all on the paper, nothing over anything else, legible, and right for any eye."""

from __future__ import annotations

import colour
import numpy as np
from matplotlib.colors import to_rgb
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from lightsim.report.drawing.sheet_of_paper import Box, Sheet
from lightsim.report.theme import SIZES

SLACK_MM = 0.3  # of a letter's own room, above and below


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """W3C Web Content Accessibility Guidelines 2.2, "contrast ratio", of sRGB 0..1 through colour-science."""
    both = [np.asarray(colour.cctf_decoding(np.array(each), function="sRGB")) for each in (one, other)]
    dim, bright = sorted(float(each @ [0.2126, 0.7152, 0.0722]) for each in both)
    return (bright + 0.05) / (dim + 0.05)


def overlap(one: Box, other: Box, slack: float = SLACK_MM) -> bool:
    """Whether two boxes share more than a hair's breadth."""
    return (
        one[0] < other[2] - slack
        and other[0] < one[2] - slack
        and one[1] < other[3] - slack
        and other[1] < one[3] - slack
    )


def inside(box: Box, outer: Box) -> bool:
    """Whether a box lies within another."""
    return (
        box[0] >= outer[0] - 0.1
        and box[1] >= outer[1] - 0.1
        and box[2] <= outer[2] + 0.1
        and box[3] <= outer[3] + 0.1
    )


def check_page(sheet: Sheet) -> None:
    """The page's words and pictures keep apart and stay on it, and all is legible."""
    page = (0.0, 0.0, sheet.width_mm, sheet.height_mm)
    boxes = [(each.text, each.box) for each in sheet.texts if each.text]
    boxes += [("picture", box) for box in sheet.pictures]
    for number, (name, box) in enumerate(boxes):
        assert inside(box, page), (name, box)
        for other_name, other in boxes[number + 1 :]:
            assert not overlap(box, other), (name, other_name, box, other)
    check_legible(sheet)


def check_legible(sheet: Sheet) -> None:
    """Text stands out 7 : 1, lines 3 : 1 (WCAG 2.2, 1.4.6 and 1.4.11), and no type is too small."""
    paper = tuple(level / 255.0 for level in sheet.theme.paper)
    for text in sheet.texts:
        assert contrast(tuple(level / 255.0 for level in text.colour), paper) >= 7.0, text
        assert text.points >= SIZES["smallest"] - 1e-9, text
    for axes in sheet.figure.axes:
        for label in axes.texts if axes is not sheet.axes else ():
            assert contrast(to_rgb(label.get_color()), paper) >= 7.0, label
            assert label.get_fontsize() >= SIZES["smallest"] - 1e-9, label
        for artist in axes.get_children():
            if isinstance(artist, Line2D) and artist.get_linestyle() != "None" and len(artist.get_xdata()):
                if axes is sheet.axes and _in_a_picture(sheet, np.asarray(artist.get_xydata())):
                    continue  # marks in a picture are dark beside white
                assert contrast(to_rgb(artist.get_color()), paper) >= 3.0, artist
            if isinstance(artist, Polygon) and artist.get_linewidth() > 0.0:
                assert contrast(to_rgb(artist.get_edgecolor()), paper) >= 3.0, artist


def _in_a_picture(sheet: Sheet, points: np.ndarray) -> bool:
    return any(
        np.all((points >= (box[0] - 0.5, box[1] - 0.5)) & (points <= (box[2] + 0.5, box[3] + 0.5)))
        for box in sheet.pictures
    )


def ink_share(picture: np.ndarray) -> float:
    """Share of a page, (h, w, 3) uint8, that is printed: mean of 1 - the sRGB value over the channels."""
    return float(1.0 - picture.astype(float).mean() / 255.0)
