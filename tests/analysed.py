"""An analysis for tests of reports: real figures of a table, in sections, one of them about single raters."""

from measure.agreement.analysis import Analysis, Figure, Section
from measure.agreement.bias import rater_ratio
from measure.agreement.from_mean import from_mean
from measure.agreement.statistic import Statistic

KAPPA = Statistic(0.21, method="no interval", source="Fleiss, Psychol Bull 1971;76:378-382")


def analysed(observations):
    """Return some figures of a table with several raters."""
    limit = from_mean(observations, relative=True).limit
    found = [
        Figure("limits_from_mean", "Limits of agreement with the mean", limit),
        Figure(
            "kappa", "Fleiss' κ", Statistic(0.21, method="no interval", source="Fleiss, Psychol Bull 1971;76:378-382")
        ),
    ]
    people = [Figure(f"ratio_{each.rater}", each.rater, each.statistic) for each in rater_ratio(observations)]
    return Analysis(
        observations,
        f"A change of less than {limit.value:.0f} % may be measuring alone.",
        (
            Section("agreement", "How far single tracings lie apart", tuple(found), ("Errors grow with the size.",)),
            Section("raters", "Each rater beside the others", tuple(people), about_people=True),
            Section("categories", "Categories", (), ("The study holds no categories.",)),
        ),
    )
