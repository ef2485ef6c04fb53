"""A lesson worked out: its photographs traced and measured, then a page, a worksheet and slides."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from lightsim.errors import LightsimError, SceneError
from lightsim.report.files.writable import require_file, require_folder
from lightsim.report.handout.handout_page import handout_html
from lightsim.report.handout.handout_records import HandoutPage, Section
from lightsim.report.lesson.lesson_parts import TaughtLesson, TaughtStep, as_html
from lightsim.report.page_options import PageOptions
from lightsim.report.terms import GLOSSARY
from lightsim.report.theme import petal_colour
from lightsim.runs.handout.handout import caution_sentences
from lightsim.runs.handout.handout_set import handout_set, weight_of
from lightsim.runs.job import JobProgress, Report
from lightsim.runs.lesson.lesson_file import Lesson, Step, find_lesson, load_lesson, with_numbers
from lightsim.runs.limits import require_memory, samples_of
from lightsim.runs.sweep.schedule import SweepPlan, plan_sweep
from lightsim.scene.build import build, files_read
from lightsim.whole_file import replacing

PAGES_WEIGHT = 2.0
FILES = ("lesson.html", "worksheet.pdf", "slides.pdf")


def write_lesson(
    source: str | Path,
    folder: str | Path | None = None,
    *,
    quality: str = "normal",
    page: PageOptions | None = None,
    progress: Report | None = None,
) -> list[Path]:
    """Make a lesson's files: a page for phones, a worksheet with its answers, and slides.

    Parameters
    ----------
    source : a lesson file, or the name of a lesson that comes with the program.
    folder : where the files go; lesson-NAME when None.
    page : paper, ground and credit; slides and page follow the ground, the worksheet is always on paper.

    Raises
    ------
    LightsimError, SceneError, OutputError before anything is traced.
    """
    page = PageOptions() if page is None else page
    lesson = load_lesson(find_lesson(source))
    place = Path(folder) if folder is not None else Path(f"lesson-{lesson.path.stem}")
    plans = [_plan_of(lesson, step, number, quality) for number, step in enumerate(lesson.steps)]
    for plan in plans:
        require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    require_folder(place)
    inputs = [lesson.path, *(file for plan in plans for file in files_read(plan.scene))]
    for name in FILES:
        require_file(place / name, inputs=inputs)
    job = JobProgress(progress, sum(map(weight_of, plans)) + PAGES_WEIGHT)
    taught = _taught(lesson, plans, job, page)
    part = job.part(PAGES_WEIGHT, "page, worksheet and slides")
    paths = _write(taught, plans, place, page)
    part(1.0)
    job.finish()
    return paths


def _plan_of(lesson: Lesson, step: Step, number: int, quality: str) -> SweepPlan:
    try:
        return plan_sweep(
            lesson.scenes[step.scene],
            step.vary,
            light=step.light,
            samples=samples_of(quality),
            width_px=lesson.width_px,
        )
    except SceneError as error:
        raise SceneError([f"step[{number}]: {problem}" for problem in error.problems]) from None
    except LightsimError as error:
        raise LightsimError(f"{lesson.path}: step[{number}].vary: {error}") from None


def _taught(lesson: Lesson, plans: list[SweepPlan], job: JobProgress, page: PageOptions) -> TaughtLesson:
    steps = []
    for number, (step, plan) in enumerate(zip(lesson.steps, plans, strict=True)):
        shown = handout_set(plan, job, step.heading)
        where = f"{lesson.path}: step[{number}]"
        text, question, answer = (
            with_numbers(words, shown, where) for words in (step.text, step.question, step.answer)
        )
        steps.append(TaughtStep(step.heading, text, shown, question, answer, step.numbers))
    return TaughtLesson(page.title or lesson.title, lesson.about, tuple(steps), page.credit or lesson.credit)


def _write(taught: TaughtLesson, plans: list[SweepPlan], folder: Path, options: PageOptions) -> list[Path]:
    """All files or none."""
    from lightsim.report.drawing.page_files import write_pages
    from lightsim.report.lesson.slides import slides_pages
    from lightsim.report.lesson.worksheet import worksheet_pages

    petal = petal_colour(build(plans[0].scene))
    html = handout_html(_page(taught, plans), petal, options.ground)
    paper = PageOptions(paper=options.paper, petal=petal, credit=options.credit)
    slides = PageOptions(ground=options.ground, petal=petal, credit=options.credit, dpi=150.0)
    paths = [folder / name for name in FILES]
    with ExitStack() as stack:
        page, worksheet, shown = (stack.enter_context(replacing(path)) for path in paths)
        page.write_text(html, encoding="utf-8")
        write_pages(worksheet, worksheet_pages(taught, paper))
        write_pages(shown, list(slides_pages(taught, slides)))
    return paths


def _page(taught: TaughtLesson, plans: list[SweepPlan]) -> HandoutPage:
    sections = [Section("", as_html(taught.about))] if taught.about else []
    sections += [
        Section(
            f"{number}. {step.heading}", as_html(step.text), step.shown, as_html(step.question),
            as_html(step.answer),
        )
        for number, step in enumerate(taught.steps, 1)
    ]  # fmt: skip
    return HandoutPage(
        title=taught.title,
        sections=tuple(sections),
        cautions=caution_sentences(plans),
        terms=tuple(GLOSSARY.items()),
    )
