"""``ebbline agreement``: published examples through the whole command, what a table can't tell, and bad tables."""

import json

import pytest
from agreement_tables import PEAK_FLOW, SHROUT_FLEISS
from peak_flow import LARGE, MINI
from test_gauge import PARTS


def write(path, lines, head="subject,rater,value"):
    path.write_text("\n".join((head, *lines)) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def asked(run_here, tmp_path):
    """Write a table, run the command on it, and return its document."""

    def ask(lines, *options, head="subject,rater,value"):
        ran = run_here("agreement", write(tmp_path / "table.csv", lines, head), "--json", *options)
        assert (ran.returncode, ran.stderr) == (0, "")
        return json.loads(ran.stdout)

    return ask


def figure(document, section, key):
    return document["results"][section]["figures"][key]


def test_shrout_and_fleiss_1979(asked):
    """Psychol Bull 1979;86:420-428, table 4 (.17 .29 .71 .44 .62 .91); digits as by pingouin 0.6.1."""
    judged = [f"t{t},j{j},{value:g}" for t, row in enumerate(SHROUT_FLEISS, 1) for j, value in enumerate(row, 1)]
    document = asked(judged)
    assert document["design"] | {"raters": 4} == {
        "rows": 24,
        "missing": 0,
        "subjects": 6,
        "raters": 4,
        "trials": ["1"],
        "methods": [],
        "values": "numbers",
        "unit": "",
        "errors": "of the same size everywhere",
    }
    for key, value, printed in (
        ("icc_1_1", 0.16574177, 0.17),
        ("icc_a_1", 0.28976378, 0.29),
        ("icc_c_1", 0.71484071, 0.71),
        ("icc_1_k", 0.44279713, 0.44),
        ("icc_a_k", 0.62005055, 0.62),
        ("icc_c_k", 0.90931554, 0.91),
    ):
        found = figure(document, "icc", key)["value"]
        assert (round(found, 8), round(found, 2)) == (value, printed)
    assert figure(document, "icc", "icc_a_1")["interval_95"] == pytest.approx([0.018787, 0.761084], abs=5e-7)
    assert figure(document, "icc", "icc_c_1")["interval_95"] == pytest.approx([0.342465, 0.945858], abs=5e-7)
    assert figure(document, "measurement_error", "sem_agreement")["value"] == pytest.approx(2.502776, abs=5e-7)
    assert figure(document, "measurement_error", "sem_consistency")["value"] == pytest.approx(1.009675, abs=5e-7)
    assert figure(document, "measurement_error", "sdc_agreement")["value"] == pytest.approx(6.937342, abs=5e-7)
    assert "must change by 6.9 before it can be called a change" in document["headline"]
    assert "same rater is not known" in " ".join(document["results"]["measurement_error"]["sentences"])


def test_bland_and_altman_1986(asked):
    """Lancet 1986;i:307-310: -2.1, 38.8; with 1.96 -78.0973 and 73.8620, as by pingouin 0.6.1's plot_blandaltman."""
    rows = [
        f"{subject},{trial},{method},one,{readings[trial - 1]:g}"
        for method, meter in (("large", LARGE), ("mini", MINI))
        for subject, readings in enumerate(meter.T, 1)
        for trial in (1, 2)
    ]
    document = asked(rows, "--unit", "l/min", head="subject,trial,method,rater,value")
    limits = document["results"]["limits of large less mini"]["figures"]
    assert limits["first_bias"]["value"] == pytest.approx(-2.117647, abs=5e-7)
    assert limits["first_sd"]["value"] == pytest.approx(38.765130, abs=5e-7)
    assert limits["first_lower"]["value"] == pytest.approx(-78.0973, abs=5e-5)
    assert limits["first_upper"]["value"] == pytest.approx(73.8620, abs=5e-5)
    assert limits["first_bias"]["interval_95"] == pytest.approx([-22.0488, 17.8135], abs=5e-5)
    scatter = {name: document["results"][f"within_subject of {name}"]["figures"] for name in ("large", "mini")}
    assert scatter["large"]["sd_same_rater"]["value"] == pytest.approx(15.3067, abs=5e-5)
    assert scatter["mini"]["sd_same_rater"]["value"] == pytest.approx(19.9108, abs=5e-5)
    assert document["headline"].startswith("large less mini is -6 l/min on average")  # means of both readings


def test_bland_and_altman_1996(asked):
    """BMJ 1996;313:744: 21.5 l/min (from memory; 21.460 as recomputed from the table)."""
    rows = [f"{child},meter,{value:g}" for child, row in enumerate(PEAK_FLOW, 1) for value in row]
    document = asked(rows)
    assert figure(document, "within_subject", "sd_same_rater")["value"] == pytest.approx(21.460, abs=5e-4)
    assert figure(document, "within_subject", "repeatability_same_rater")["value"] == pytest.approx(59.483, abs=5e-3)
    assert "if the same person measures both times" in document["headline"]


def test_a_gauge_study(asked):
    """AIAG, 4th edition: %GRR 26.68 by average and range; McNeese 2015: 27.86 by analysis of variance."""
    rows = [
        f"{part},{rater},{trial},{PARTS[part, 'ABC'.index(rater), trial]}"
        for part in range(10)
        for rater in "ABC"
        for trial in range(3)
    ]
    document = asked(rows, head="subject,rater,trial,value")
    assert figure(document, "gauge", "ranges_percent")["value"] == pytest.approx(26.68, abs=5e-3)
    assert figure(document, "gauge", "anova_percent")["value"] == pytest.approx(27.86, abs=5e-3)
    assert "was put into the error" in " ".join(document["results"]["gauge"]["sentences"])


FLEISS = """0 0 0 0 14/0 2 6 4 2/0 0 3 5 6/0 3 9 2 0/2 2 8 1 1/7 7 0 0 0/3 2 6 3 0/2 5 3 2 2/6 5 2 1 0/0 2 2 3 7"""
"""Fleiss, Psychol Bull 1971;76:378-382: how many of 14 psychiatrists named each of 5 diagnoses, 10 patients."""


def test_fleiss_1971(asked):
    """Kappa .210, as by statsmodels 0.15.0 (0.209931)."""
    rows = []
    for patient, line in enumerate(FLEISS.split("/")):
        named = [kind for kind, count in enumerate(line.split()) for _ in range(int(count))]
        rows += [f"{patient},r{rater},diagnosis {kind}" for rater, kind in enumerate(named)]
    document = asked(rows)
    assert figure(document, "categories", "fleiss_kappa")["value"] == pytest.approx(0.209931, abs=5e-7)
    assert figure(document, "categories", "equal_answers")["value"] == pytest.approx(0.378, abs=5e-4)
    assert "kappa is 0.21" in document["headline"]


KRIPPENDORFF = "1 2 3 3 2 1 4 1 2 . . ./1 2 3 3 2 2 4 1 2 5 . 3/. 3 3 3 2 3 4 2 2 5 1 ./1 2 3 3 2 4 4 1 2 5 1 ."
"""Krippendorff's example of 4 observers and 12 units with missing answers, as packages for R carry it."""


def test_krippendorff_with_missing_answers_and_numbers_for_categories(asked):
    """Nominal, ordinal, interval and ratio as by krippendorff 0.9.0."""
    rows = [
        f"{unit},o{observer},{'' if value == '.' else value}"
        for observer, line in enumerate(KRIPPENDORFF.split("/"))
        for unit, value in enumerate(line.split())
    ]
    document = asked(rows, "--categories")
    assert document["design"]["missing"] == 7
    for level, value in (("nominal", 0.743421), ("ordinal", 0.815388), ("interval", 0.849107), ("ratio", 0.797403)):
        assert figure(document, "categories", f"alpha_{level}")["value"] == pytest.approx(value, abs=5e-7)


def test_an_order_makes_words_ordinal(asked):
    rows = [f"{n},{rater},{word}" for n in range(6) for rater, word in (("A", "none"), ("B", "some"))]
    rows[0], rows[3] = "0,A,much", "1,B,none"
    document = asked(rows, "--order", "none,some,much")
    assert set(document["results"]["kappa of A and B"]["figures"]) >= {"kappa", "kappa_linear", "kappa_quadratic"}
    assert "alpha_ordinal" in document["results"]["categories"]["figures"]


def test_errors_in_proportion_to_the_size_are_told_for_a_wound(asked):
    """Two raters who always differ by the factor 1.1: SEM of the logarithm ln(1.1) / sqrt(2), by hand."""
    rows = [
        f"w{n},{rater},{area * factor}"
        for n, area in enumerate((5, 10, 20))
        for rater, factor in zip("AB", (1, 1.1), strict=True)
    ]
    document = asked(rows, "--relative", "--unit", "cm2")
    share = figure(document, "measurement_error", "sdc_relative_agreement")["value"]
    assert share == pytest.approx(0.1863, abs=5e-4)  # 2 tanh(1.96 ln(1.1) / 2)
    assert document["headline"].startswith("With the present practice a 10 cm² wound must change by 1.9 cm² before")


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (["a,one,1.0", "b,one,2.0"], "was measured again"),
        (["a,one,3", "a,two,3", "b,one,3", "b,two,3"], "all alike|No two|the same"),
        (["a,one,1.0", "b,two,2.0"], "was measured again"),
        (["a,one,1.0", "a,two,2.0"], "one subject|at least two"),
    ],
)
def test_what_a_table_cannot_tell_is_a_sentence(asked, rows, says):
    document = asked(rows)
    said = " ".join(sentence for section in document["results"].values() for sentence in section["sentences"])
    assert any(part in said for part in says.split("|"))
    assert "nan" not in json.dumps(document).lower().replace("anan", "")


def test_text_says_what_it_means_first(run_here, tmp_path):
    judged = [f"t{t},j{j},{value:g}" for t, row in enumerate(SHROUT_FLEISS, 1) for j, value in enumerate(row, 1)]
    ran = run_here("agreement", write(tmp_path / "table.csv", judged))
    lines = ran.stdout.splitlines()
    said = "With the present practice a value must change by 6.9 before it can be called a change"
    assert lines[0] == f"{said} (95 % interval 4.4 to 24.2)."
    assert lines[1] == "  24 values, 6 subjects, 4 raters"
    assert any("ICC(A,1) = ICC(2,1)" in line and "0.2898 (0.01879 to 0.7611)" in line for line in lines)


def test_reports_name_nobody_unless_asked(run_here, tmp_path):
    judged = [f"t{t},judy-{j},{value:g}" for t, row in enumerate(SHROUT_FLEISS, 1) for j, value in enumerate(row, 1)]
    table = write(tmp_path / "table.csv", judged)
    for options, named in ((), False), (("--people",), True):
        ran = run_here("agreement", table, "--report", tmp_path / "study.html", "--title", "Ward 7", *options)
        assert (ran.returncode, ran.stderr) == (0, f"Wrote {tmp_path / 'study.html'}.\n")
        page = (tmp_path / "study.html").read_text(encoding="utf-8")
        assert "Ward 7" in page
        assert ("judy-1" in page) is named
    assert run_here("agreement", table, "--report", tmp_path / "study.pdf").returncode == 0
    assert (tmp_path / "study.pdf").read_bytes().startswith(b"%PDF-")


def test_bad_input_is_one_sentence(run_here, tmp_path):
    empty = write(tmp_path / "empty.csv", [])
    strange = write(tmp_path / "strange.csv", ["1,2"], head="wound,size")
    zero = write(tmp_path / "zero.csv", ["a,A,0", "a,B,1", "b,A,2", "b,B,2.5"])
    for words in ((empty,), (strange,), (zero, "--relative"), (zero, "--report", tmp_path / "no" / "such.html")):
        ran = run_here("agreement", *words)
        assert ran.returncode == 1
        assert ran.stderr.count("\n") == 1
        assert "Traceback" not in ran.stderr
    assert run_here("agreement", zero, "--report", "study.txt").returncode == 2
    assert run_here("agreement", zero, "--order", "a,b").returncode in {0, 1}
