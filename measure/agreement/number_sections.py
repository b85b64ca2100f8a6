"""The sections of an analysis of numbers: error and smallest change, scatter, correlations, components, limits."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from itertools import combinations

from measure.agreement.bias import rater_bias, rater_ratio
from measure.agreement.components import Components, components
from measure.agreement.correlation import correlations, reliability
from measure.agreement.errors import AgreementError
from measure.agreement.from_mean import from_mean
from measure.agreement.gauge import analysis_of_variance, average_and_range
from measure.agreement.limits import Limits, limits_of_agreement, repeated_limits
from measure.agreement.measurement_error import Kind, relative_change, smallest_change, standard_error
from measure.agreement.observations import Observations
from measure.agreement.pairs import Pairs, pairs
from measure.agreement.precision import SOURCE as PRECISION
from measure.agreement.precision import Precision, precision
from measure.agreement.section import Gathering, Section
from measure.agreement.statistic import Statistic
from measure.agreement.within import WithinSubject, within_subject

BANDS = "bands of Koo TK, Li MY. J Chiropr Med 2016;15:155-163"

MOST_RATERS = 6
"""Of whom each pair gets its limits; of more there are too many to read, and the bias of each tells enough."""

FEW_RATERS = 5
"""Fewer leave open how far apart raters are: in simulated studies with 3 the upper end is 4 times the value."""

MOST_LEVELS = 30
"""Subjects for each of which repeatability and reproducibility are told."""

_DRAWN_ANEW = (
    "From rater to rater, intervals take each subject's raters as other people; where the same few measured all of "
    "them, that of the standard error of measurement, any two raters, is wider and the one to trust."
)

_ANY_RATER = (
    "Of each subject the values of all {raters} raters were averaged for either method, as if one had repeated them: "
    "the limits are of single values by any of them, first measurements are the first row of a subject, and intervals "
    "are somewhat narrow where raters differ."
)

_PART = (
    "standard deviation of this part over that of the whole, by {way}; such percents don't add up to 100; no interval"
)

_BY_CHANCE = (
    "Of {standings} h and k, {found} exceed what chance exceeds once in 200 (ASTM E691): look at these measurements "
    "again before anything is concluded."
)

_KINDS = {
    Kind.AGREEMENT: ("agreement", "any two raters"),
    Kind.CONSISTENCY: ("consistency", "raters' mean differences taken off"),
    Kind.SAME_RATER: ("same_rater", "same rater twice"),
}


def number_sections(observations: Observations, *, relative: bool) -> Iterator[Section]:
    """Yield what the numbers of one method tell.

    Parameters
    ----------
    observations : Observations
        Of one method.
    relative : bool
        Whether errors grow in proportion to the size; the smallest detectable change is a share then, too.
    """
    yield _error(observations, relative=relative)
    yield _scatter(observations)
    yield _correlations(observations)
    yield _components(observations)
    if len(observations.raters) > 1:
        if observations.repeated:
            yield from _precision(observations)
            yield _gauge(observations)
        yield _from_mean(observations, relative=relative)
        yield _bias(observations, relative=relative)
        yield from _rater_limits(observations, relative=relative)


def change_of(observations: Observations, *, relative: bool) -> tuple[Components, Kind]:
    """Return the components that the smallest detectable change of one method comes from, and between whom it is.

    Between any two raters where the table tells, else by the same rater.

    Raises
    ------
    AgreementError
        If neither can be told.
    """
    found = components(observations.logged() if relative else observations)
    for kind in (Kind.AGREEMENT, Kind.SAME_RATER):
        try:
            standard_error(found, kind)
        except AgreementError:
            if kind is Kind.SAME_RATER:
                raise
        else:
            break
    return found, kind


def _error(observations: Observations, *, relative: bool) -> Section:
    gathered = Gathering("measurement_error", "Measurement error and smallest detectable change")
    try:
        found = components(observations)
        logged = components(observations.logged()) if relative else None
    except AgreementError as error:
        gathered.say(str(error))
        return gathered.section()
    for kind, (key, whose) in _KINDS.items():
        gathered.find(f"sem_{key}", f"Standard error of measurement, {whose}", partial(standard_error, found, kind))
        gathered.find(f"sdc_{key}", f"Smallest detectable change, {whose}", partial(smallest_change, found, kind))
        if logged:
            label = f"Smallest detectable change as a share of the size, {whose}"
            gathered.find(f"sdc_relative_{key}", label, partial(relative_change, logged, kind), share=True)
    if found.rater is not None and found.raters < FEW_RATERS:
        gathered.say(
            f"How far apart any two raters are is known from {found.raters} alone, so the upper ends of those "
            "intervals lie far off; more raters bring them down, more subjects don't."
        )
    if logged:
        gathered.say(
            "Shares of the size come from logarithms of the values: take them for one size. All other figures "
            "here, and scatter, correlations, components and gauge study, are of the values as they are, in which "
            "large ones weigh most."
        )
    return gathered.section()


def _scatter(observations: Observations) -> Section:
    gathered = Gathering("within_subject", "Scatter of repeated measurements")
    for same_rater, key, whose in ((True, "same_rater", "by the same rater"), (False, "raters", "from rater to rater")):
        if not same_rater and len(observations.raters) < 2:
            continue
        try:
            found = within_subject(observations, same_rater=same_rater)
        except AgreementError as error:
            gathered.say(str(error))
            continue
        gathered.add(f"sd_{key}", f"Within-subject standard deviation, {whose}", found.standard_deviation)
        label = f"{'Repeatability: two' if same_rater else 'Two'} measurements differ by less in 95 of 100, {whose}"
        gathered.add(f"repeatability_{key}", label, found.repeatability)
        gathered.add(
            f"size_dependence_{key}",
            f"Does the scatter grow with the size (Kendall's tau), {whose}",
            found.size_dependence,
        )
        gathered.say(found.no_size_dependence)
        gathered.say(_size_dependence(found, whose))
        if not same_rater:
            gathered.say(_DRAWN_ANEW)
    return gathered.section()


def _size_dependence(found: WithinSubject, whose: str) -> str:
    """Say how the scatter depends on the size, if it does."""
    tau, p = found.size_dependence, found.size_dependence_p
    if tau is None or p is None or p >= 0.05:
        return ""
    if tau.value > 0:
        return (
            f"The scatter {whose} grows with the size (p = {p:.2g}), so that shares of the size (errors in proportion "
            "to it) fit better than one figure for all sizes."
        )
    return (
        f"The scatter {whose} shrinks as the size grows (p = {p:.2g}), so that one figure fits none of the sizes well."
    )


def _correlations(observations: Observations) -> Section:
    gathered = Gathering("icc", "Intraclass correlations")
    first = observations.first_trials()
    try:
        found = correlations(first.crossed())
    except AgreementError as error:
        gathered.say(str(error))
        return gathered.section()
    k = len(first.raters)
    for key, label, statistic in (
        ("icc_1_1", "ICC(1,1), each subject by other raters, one value", found.icc_1_1),
        ("icc_a_1", "ICC(A,1) = ICC(2,1), absolute agreement, one value", found.icc_a_1),
        ("icc_c_1", "ICC(C,1) = ICC(3,1), consistency, one value", found.icc_c_1),
        ("icc_1_k", f"ICC(1,{k}), each subject by other raters, mean of {k}", found.icc_1_k),
        ("icc_a_k", f"ICC(A,{k}) = ICC(2,{k}), absolute agreement, mean of {k}", found.icc_a_k),
        ("icc_c_k", f"ICC(C,{k}) = ICC(3,{k}), consistency, mean of {k}", found.icc_c_k),
    ):
        gathered.add(key, label, statistic)
    if len(first.value) < len(observations.value):
        gathered.say("Of each rater the first trial counts here.")
    if found.left_out:
        gathered.say(f"Subjects that not all raters measured are left out: {found.left_out}.")
    gathered.say(_reliability(found.icc_a_1))
    return gathered.section()


def _reliability(icc: Statistic) -> str:
    """Judge both ends of the interval, as Koo and Li ask; the value alone where there is none."""
    if not icc.has_interval:
        return f"ICC(A,1) by itself says {reliability(icc.value)} ({BANDS}), and has no interval, which could say more."
    low, high = (reliability(end) for end in (icc.low, icc.high))
    said = low if low == high else f"between {low} and {high}"
    return f"ICC(A,1) says {said} ({BANDS}), and depends on how much the subjects of this table differ."


def _components(observations: Observations) -> Section:
    gathered = Gathering("components", "Where the differences come from, as standard deviations")
    try:
        found = components(observations)
    except AgreementError as error:
        gathered.say(str(error))
        return gathered.section()
    for name, label in (
        ("subject", "Between subjects"),
        ("rater", "Between raters"),
        ("interaction", "Raters differing from subject to subject"),
        ("error", "The rest: a rater measuring again" if found.interaction is not None else "The rest"),
    ):
        if getattr(found, name) is not None:
            gathered.find(name, label, partial(found.spread, name))
    gathered.say(*found.sentences)
    return gathered.section()


def _precision(observations: Observations) -> Iterator[Section]:
    """Yield the figures of each subject, and which raters stand apart there."""
    gathered = Gathering("precision", "Repeatability and reproducibility of each subject")
    apart = Gathering("standing_apart", "Raters who stand apart on a subject (Mandel's h and k)")
    if len(observations.subjects) > MOST_LEVELS:
        gathered.say(
            f"Told of up to {MOST_LEVELS} subjects one by one, and the table holds {len(observations.subjects)}."
        )
        yield gathered.section()
        return
    standings = 0
    for subject in observations.subjects:
        try:
            found = precision(observations.where(observations.subject == subject))
        except AgreementError as error:
            gathered.say(f"{subject}: {error}")
            continue
        for key, label, statistic, detail in (
            ("repeatability", "repeatability standard deviation", found.repeatability, False),
            ("reproducibility", "reproducibility standard deviation", found.reproducibility, False),
            ("between", "standard deviation between raters", found.between, True),
            ("r", "repeatability limit r", found.repeatability_limit, True),
            ("R", "reproducibility limit R", found.reproducibility_limit, True),
        ):
            gathered.add(f"{key}_{subject}", f"{subject}: {label}", statistic, detail=detail)
        gathered.say(*(f"{subject}: {sentence}" for sentence in found.sentences))
        _standing_apart(apart, found)
        standings += sum((each.h is not None) + (each.k is not None) for each in found.standings)
    yield gathered.section()
    if standings:
        apart.say(_BY_CHANCE.format(standings=standings, found=len(apart.figures)))
        yield apart.section(about_people=True)


def _standing_apart(gathered: Gathering, found: Precision) -> None:
    """Add the h and k of a subject that exceed what chance does."""
    for each in found.standings:
        where = f"{found.subject} by {each.rater}"
        if each.stands_apart and each.h is not None:
            method = (
                f"mean less that of all raters, over the standard deviation of means; critical {each.h_critical:.2f}"
            )
            label = f"{where}, mean beside the others (h)"
            gathered.add(f"h_{where}", label, Statistic(each.h, method=method, source=PRECISION))
        if each.varies_more and each.k is not None:
            method = f"standard deviation over that of repeatability; critical {each.k_critical:.2f}"
            label = f"{where}, scatter beside the others (k)"
            gathered.add(f"k_{where}", label, Statistic(each.k, method=method, source=PRECISION))


def _gauge(observations: Observations) -> Section:
    gathered = Gathering("gauge", "Gauge study")
    for key, way, study in (
        ("ranges", "average and range", average_and_range),
        ("anova", "analysis of variance", analysis_of_variance),
    ):
        try:
            found = study(observations)
        except AgreementError as error:
            gathered.say(f"By {way}: {error}")
            continue
        for name, label, statistic in (
            ("repeatability", "Repeatability (equipment variation)", found.repeatability),
            ("reproducibility", "Reproducibility (appraiser variation)", found.reproducibility),
            ("gauge", "Both together (gauge R&R)", found.measuring),
            ("subjects", "Between subjects (part variation)", found.subjects),
            ("total", "Total variation", found.whole),
            ("percent", "Gauge R&R as a share of the total variation (%GRR)", found.percent),
            ("distinct", "Number of distinct categories (ndc)", found.distinct_categories),
        ):
            gathered.add(f"{key}_{name}", f"{label}, by {way}", statistic)
        for name, label, part in (
            ("repeatability", "Repeatability (%EV)", found.repeatability),
            ("reproducibility", "Reproducibility (%AV)", found.reproducibility),
            ("subjects", "Between subjects (%PV)", found.subjects),
        ):
            share = replace(found.percent, value=found.percent_of(part), method=_PART.format(way=way))
            whole = f"{label} as a share of the total variation, by {way}"
            gathered.add(f"{key}_percent_{name}", whole, share, detail=True)
        gathered.say(*(f"By {way}: {sentence}" for sentence in found.sentences))
    return gathered.section()


def _from_mean(observations: Observations, *, relative: bool) -> Section:
    gathered = Gathering("from_mean", "How far a measurement lies from the mean of all raters")
    try:
        found = from_mean(observations, relative=relative)
    except AgreementError as error:
        gathered.say(str(error))
        return gathered.section()
    if relative:
        gathered.add("limit", "In 95 of 100 measurements by less than, upward", found.limit)
        gathered.say(f"Downward, in proportion, that is {-found.low_limit:.3g} %.")
    else:
        gathered.add("limit", "In 95 of 100 measurements by less than", found.limit)
    if found.left_out:
        gathered.say(f"Subjects that not all raters measured equally often are left out: {found.left_out}.")
    return gathered.section()


def _bias(observations: Observations, *, relative: bool) -> Section:
    ratios = " (ratio of the rater's values to theirs)" if relative else ""
    gathered = Gathering("bias", f"How far each rater lies from the others{ratios}")
    try:
        for each in rater_ratio(observations) if relative else rater_bias(observations):
            gathered.add(each.rater, f"{each.rater} ({each.n} subjects)", each.statistic)
    except AgreementError as error:
        gathered.say(str(error))
    if len(observations.raters) > MOST_RATERS:
        gathered.say(f"Limits of agreement of each pair are told of up to {MOST_RATERS} raters.")
    return gathered.section(about_people=True)


def _rater_limits(observations: Observations, *, relative: bool) -> Iterator[Section]:
    if len(observations.raters) <= MOST_RATERS:
        for one, other in combinations(observations.raters, 2):
            yield limits_section(observations, one, other, by="rater", relative=relative)


def limits_section(observations: Observations, one: str, other: str, *, by: str, relative: bool) -> Section:
    """Return the limits of agreement of two methods or two raters."""
    gathered = Gathering("limits", "Limits of agreement")
    try:
        both = pairs(observations, one, other, by="rater" if by == "rater" else "method")
        _limits(gathered, repeated_limits(both, unit=observations.unit, log=relative), "")
        if by == "method" and len(observations.raters) > 1:
            gathered.say(_ANY_RATER.format(raters=len(observations.raters)))
        if both.repeated:
            _limits(gathered, _of_first(both, observations.unit, relative=relative), "first_")
        if both.left_out:
            gathered.say(f"Subjects measured one way only are left out: {both.left_out}.")
    except AgreementError as error:
        gathered.say(str(error))
    found = gathered.section(about_people=by == "rater").of(f"{one} less {other}")
    return replace(found, title=f"Limits of agreement, as ratios: {one} to {other}") if relative else found


def _of_first(both: Pairs, unit: str, *, relative: bool) -> Limits:
    first, second = ([values[0] for values in side] for side in (both.first_single, both.second_single))
    return limits_of_agreement(first, second, unit=unit, log=relative)


def _limits(gathered: Gathering, found: Limits, prefix: str) -> None:
    of_what = ", first measurements alone" if prefix else ""
    spread = "Standard deviation of the differences" + (" of logarithms" if found.log else "")
    for key, label, statistic in (
        ("bias", "Mean ratio" if found.log else "Mean difference", found.bias),
        ("lower", "Lower limit of agreement", found.lower),
        ("upper", "Upper limit of agreement", found.upper),
        ("sd", spread, found.standard_deviation),
        ("slope", f"Change of the {'ratio' if found.log else 'difference'} with the size", found.slope),
    ):
        gathered.add(f"{prefix}{key}", f"{label}{of_what}", statistic, detail=bool(prefix))
    for side, statistic in zip(("lower", "upper"), found.exact or (), strict=False):
        label = f"{side.capitalize()} limit of agreement, exact interval{of_what}"
        gathered.add(f"{prefix}{side}_exact", label, statistic, detail=True)
    gathered.say(found.no_slope)
    if not prefix and found.slope_p is not None and found.slope_p < 0.05:
        what, instead = ("ratio", "") if found.log else ("difference", "; ratios (errors in proportion to it) may")
        p = f"p = {found.slope_p:.2g}"
        gathered.say(f"The {what} changes with the size ({p}): the limits fit none of the sizes well{instead}.")
