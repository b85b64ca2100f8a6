"""A table that is written is the table that is read."""

from dataclasses import replace

import numpy as np
from judges import study, table

from measure.agreement.table_csv import observations_csv
from measure.agreement.table_file import read_observations


def test_what_is_written_is_read_again():
    told = study()
    found = read_observations(observations_csv(told).encode(), unit="cm2")
    for name in ("subject", "rater", "trial", "method", "value"):
        assert getattr(found, name).tolist() == getattr(told, name).tolist()


def test_categories_are_read_again():
    told = replace(table([[1.0, 2.0]]), value=np.array(["slough", "granulation"]))
    assert read_observations(observations_csv(told).encode()).value.tolist() == ["slough", "granulation"]


def test_a_spreadsheet_gets_no_formula_but_negative_numbers():
    text = observations_csv(table([[-1.5, 2.0]], raters=["=1+1", "@x"]))
    assert [line.split(",")[1] for line in text.splitlines()[1:]] == ["'=1+1", "'@x"]
    assert text.splitlines()[1].endswith(",-1.5")
