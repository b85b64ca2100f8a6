"""A table of measurements as a file, which spreadsheets open and `read_observations` reads."""

import csv
import io

from measure.agreement.observations import Observations
from measure.spreadsheet import harmless


def observations_csv(observations: Observations) -> str:
    """Return the table as CSV: subject, rater, trial, method and value, numbers with all their digits."""
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow(["subject", "rater", "trial", "method", "value"])
    columns = (observations.subject, observations.rater, observations.trial, observations.method)
    for *names, value in zip(*columns, observations.value.tolist(), strict=True):
        writer.writerow([*map(harmless, names), value if observations.numeric else harmless(value)])
    return file.getvalue()
