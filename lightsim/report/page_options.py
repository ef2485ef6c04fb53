"""What the user chooses of a page's look and content."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lightsim.errors import LightsimError
from lightsim.report.theme import PAPERS, RGB8, PaperSize, Theme, petal_colour, theme_for
from lightsim.scene.stage import Stage


@dataclass(frozen=True)
class PageOptions:
    """How pages are made.

    paper : "a4" or "letter".  ground : "light", or "dark" for a projector.
    petal : the petal's colour, sRGB, from which the accent is taken.
    title : takes the place of the page's own; None leaves that.
    credit : who made it, or what for; stands at the foot.
    measures : names of what stands under a frame (`caption_lines.MEASURES`); None takes the usual ones.
    columns : of a contact sheet; None takes the number that suits the count.
    hide_captions : letters in place of captions, and the answers on a page of their own.
    dpi : dots per inch of pages as pixels, and of the pictures on them.
    """

    paper: str = "a4"
    ground: str = "light"
    petal: RGB8 | None = None
    title: str | None = None
    credit: str = ""
    measures: tuple[str, ...] | None = None
    columns: int | None = None
    hide_captions: bool = False
    dpi: float = 300.0

    def checked(self) -> PageOptions:
        """The same options. Raises LightsimError, before anything is drawn, where one cannot be met."""
        from lightsim.report.sheet.caption_lines import checked_measures
        from lightsim.report.sheet.plate_layout import most_columns

        theme_for(self.ground)
        checked_measures(self.measures)
        most = most_columns(self.paper_size)
        if self.columns is not None and not 1 <= self.columns <= most:
            raise LightsimError(f"columns: found {self.columns}, allowed 1 to {most} on this paper")
        return self

    @property
    def paper_size(self) -> PaperSize:
        """The paper's sides. Raises LightsimError for a paper that is not known."""
        if self.paper not in PAPERS:
            raise LightsimError(f"paper: found {self.paper!r}, allowed {' or '.join(PAPERS)}")
        return PAPERS[self.paper]

    @property
    def theme(self) -> Theme:
        """The colours. Raises LightsimError for a ground that is not known."""
        return theme_for(self.ground, self.petal)


def options_for(options: PageOptions | None, stage: Stage) -> PageOptions:
    """The options, the usual ones for None, with the petal's own colour where they name none."""
    options = PageOptions() if options is None else options
    return options if options.petal is not None else replace(options, petal=petal_colour(stage))
