"""What a study tells about one quantity: figures, charts and the report, with raters' names or with letters."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from measure.agreement.analysis import Analysis, analyse
from measure.agreement.chart import Chart
from measure.agreement.charts import Charts, charts
from measure.agreement.letters import lettered, letters
from measure.agreement.overlaps import Overlap
from measure.agreement.paper.paper import Paper
from measure.days import said
from measure.record.study_entries import DrawnBy, StudyEntry
from measure.study.outlines import compared, outlines_section
from measure.study.values import study_categories, study_observations

AREA, TISSUE = "area_cm2", "tissue"

QUANTITIES: Mapping[str, str] = {
    AREA: "Area",
    "length_cm": "Length",
    "width_cm": "Width",
    "length_x_width_cm2": "Length x width",
    "perimeter_cm": "Perimeter",
    TISSUE: "Main tissue, as colours suggest it",
}
"""What can be compared, and what people call it."""

_DRAWN = {
    DrawnBy.RANDOM: "at random from the record",
    DrawnBy.SIZE: "at random, as many of each size",
    DrawnBy.SITE: "at random, as many of each site of the body",
    DrawnBy.TONE: "at random, as many of each skin tone",
}


@dataclass(frozen=True, eq=False)
class Results:
    """What a study tells about one quantity.

    Attributes
    ----------
    study : StudyEntry
    quantity : str
        As in `QUANTITIES`.
    people : bool
        Whether raters have their names, and figures about single ones are told.
    analysis : Analysis
    charts : Charts
    overlaps : tuple of Overlap
        Of the outlines, with raters as the study names them; of areas alone.
    """

    study: StudyEntry
    quantity: str
    people: bool
    analysis: Analysis
    charts: Charts
    overlaps: tuple[Overlap, ...] = ()

    def paper(self, day: date, photos: tuple[Chart, ...] = ()) -> Paper:
        """Return the report, with charts that show photos where some are given."""
        title = f"{self.study.name}: {QUANTITIES[self.quantity].lower()}"
        drawn = (*self.charts.drawn, *photos)
        return Paper(title, self.analysis, drawn, day, tuple(_design(self.study)))


def results(study: StudyEntry, quantity: str, *, people: bool) -> Results:
    """Analyse one quantity of a study; errors of sizes are taken as growing in proportion to them.

    Raises
    ------
    AgreementError
        If nothing was traced yet, or no tracing tells the quantity.
    """
    found = study_categories(study) if quantity == TISSUE else study_observations(study, quantity)
    told = found if people else lettered(found, names(study, people=False))
    analysis = analyse(told, relative=told.numeric)
    sections = [section for section in analysis.sections if people or not section.about_people]
    pairs = compared(study) if quantity == AREA else ()
    if pairs:
        sections.insert(1, outlines_section(pairs))
    analysis = replace(analysis, sections=tuple(sections))
    drawn = charts(told, relative=told.numeric, people=True)  # they are lettered already
    shown = tuple(chart for chart in drawn.drawn if people or not chart.about_people)
    return Results(study, quantity, people, analysis, Charts(shown, drawn.missing), pairs)


def names(study: StudyEntry, *, people: bool) -> Mapping[str, str]:
    """Return what each rater of a study is called."""
    return {rater: rater for rater in study.plan.raters} if people else letters(study.plan.raters)


def usable_change(found: Results) -> Mapping[str, float | str]:
    """Return what the site's setting ``smallest_detectable_change`` becomes by a study of areas.

    Raises
    ------
    AgreementError
        If the study doesn't tell it.
    """
    share = found.analysis.relative_sdc()
    plan, observations = found.study.plan, found.analysis.observations
    interval = f", 95 % interval {100 * share.low:.0f} to {100 * share.high:.0f} %" if share.has_interval else ""
    source = (
        f"our own study '{found.study.name}', begun {said(found.study.at)}: {len(observations.subjects)} photos, "
        f"{len(observations.raters)} raters, {plan.trials} trials{interval}"
    )
    return {"area_relative": float(f"{share.value:.4g}"), "source": source, "covers": "tracing"}


def _design(study: StudyEntry) -> Iterator[tuple[str, str]]:
    plan = study.plan
    yield "Photos drawn", f"{_DRAWN[plan.drawn_by]}, seed {plan.seed}"
    yield "Raters began with", "the outline proposed at the visit" if plan.proposal else "the photo alone"
    yield "Raters saw", "no names and no outline of another tracing, not even of their own"
    yield "Length and width", plan.convention
    yield "Tracings", f"{len(study.tracings)} of {plan.tracings} that the plan asks for"
    yield "Begun", said(study.at)
    yield "Closed", said(study.closed.at) if study.closed else "not yet"
