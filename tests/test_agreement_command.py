"""``ebbline agreement``: published examples through the whole command, what a table can't tell, and bad tables."""

import json

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW, SHROUT_FLEISS, observations_of
from peak_flow import LARGE, MINI
from test_gauge import PARTS
from test_precision import GLUCOSE

from measure.agreement import headline
from measure.agreement.statistic import Statistic


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
    for way, distinct, percents in (("ranges", 5, (17.61, 20.04, 96.38)), ("anova", 4, None)):
        assert figure(document, "gauge", f"{way}_distinct")["value"] == distinct
        if percents:
            parts = ("repeatability", "reproducibility", "subjects")
            found = [round(figure(document, "gauge", f"{way}_percent_{part}")["value"], 2) for part in parts]
            assert found == pytest.approx(percents, abs=0.011)
    assert "was put into the error" in " ".join(document["results"]["gauge"]["sentences"])


def test_repeatability_and_reproducibility_of_glucose(asked):
    """ASTM E691-99, material C as misprinted: laboratory 4's k is 2.41 (critical 2.06), its h 2.14 (critical 2.15)."""
    rows = [f"C,lab {lab},{value}" for lab, cell in enumerate(GLUCOSE["C"].split(","), 1) for value in cell.split()]
    document = asked(rows)
    found = document["results"]["precision"]["figures"]
    for key, value in (
        ("repeatability", 2.7483),
        ("reproducibility", 3.4770),
        ("between", (3.4770**2 - 2.7483**2) ** 0.5),
        ("r", 2.8 * 2.7483),
        ("R", 2.8 * 3.4770),
    ):
        assert found[f"{key}_C"]["value"] == pytest.approx(value, abs=2e-4)
    apart = document["results"]["standing_apart"]
    assert {key: round(each["value"], 2) for key, each in apart["figures"].items()} == {"k_C by lab 4": 2.41}
    assert "critical 2.06" in apart["figures"]["k_C by lab 4"]["method"]
    assert apart["sentences"][0].startswith("Of 16 h and k, 1 exceed")


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


def test_methods_and_trials_of_categories_are_compared(asked):
    """Of 20 5 / 10 15 by hand: Cohen (0.7 - 0.5) / (1 - 0.5), Fleiss with 0.55² + 0.45² for the latter 0.5."""
    answers = ["aa"] * 20 + ["ab"] * 5 + ["ba"] * 10 + ["bb"] * 15
    for name, way, key, kappa in (
        ("method", "kappa of 1 and 2", "kappa", 0.4),
        ("trial", "categories_again", "fleiss_kappa", 0.195 / 0.495),
    ):
        rows = [f"w{n},one,{which},{both[which - 1]}" for n, both in enumerate(answers) for which in (1, 2)]
        document = asked(rows, head=f"subject,rater,{name},value")
        found = document["results"][way]["figures"]
        assert found["equal_answers"]["value"] == pytest.approx(0.7)
        assert found[key]["value"] == pytest.approx(kappa)
        assert "the same answer 70 times in 100" in document["headline"]


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


def test_a_correlation_without_an_interval_is_not_called_excellent(asked):
    """Subjects hardly differ: the approximate interval misses the value, which says poor."""
    rng = np.random.default_rng(1)
    said = []
    for _ in range(40):
        document = asked(
            [f"s{n},{rater},{value}" for n in range(3) for rater, value in zip("AB", rng.normal(size=2), strict=True)]
        )
        found = figure(document, "icc", "icc_a_1")
        if found["interval_95"] is None and found["value"] < 0.5:
            said += document["results"]["icc"]["sentences"]
    assert said
    assert all("by itself says poor" in sentence for sentence in said)


def test_ratios_are_called_ratios(asked):
    rows = [
        f"w{n},{rater},{(n + 1) * factor * (1 + 0.01 * (n % 3))}"
        for n in range(5)
        for rater, factor in (("A", 1), ("B", 1.2))
    ]
    plain, found = asked(rows)["results"], asked(rows, "--relative")["results"]
    key = "limits of A less B"
    assert (plain[key]["title"], found[key]["title"]) == (
        "Limits of agreement: A less B",
        "Limits of agreement, as ratios: A to B",
    )
    assert [part["results"][key]["figures"]["bias"]["label"] for part in ({"results": plain}, {"results": found})] == [
        "Mean difference",
        "Mean ratio",
    ]
    assert "(ratio of the rater's values to theirs)" in found["bias"]["title"]
    up = found["from_mean"]["figures"]["limit"]["value"] / 100
    assert found["from_mean"]["sentences"] == [f"Downward, in proportion, that is {100 * up / (1 + up):.3g} %."]


def test_scatter_that_shrinks_is_not_said_to_grow(asked):
    for power, word in ((1, "grows with the size"), (-1, "shrinks as the size grows")):
        rows = [f"w{n},A,{100 * n + side * n**power}" for n in range(1, 12) for side in (0, 1)]
        said = " ".join(asked(rows)["results"]["within_subject"]["sentences"])
        assert word in said


def test_limits_of_methods_say_that_raters_were_averaged(asked):
    rows = [
        f"w{n},{rater},{way},{n + extra + 0.1 * n * extra}"
        for n in range(4)
        for way in ("old", "new")
        for rater, extra in (("A", 0.1), ("B", 0.3))
    ]
    head = "subject,rater,method,value"
    for kept, told in ((rows, True), ([row for row in rows if ",A," in row], False)):
        said = " ".join(asked(kept, head=head)["results"]["limits of old less new"]["sentences"])
        assert ("values of all 2 raters were averaged" in said) is told


def test_text_says_what_it_means_first(run_here, tmp_path):
    judged = [f"t{t},j{j},{value:g}" for t, row in enumerate(SHROUT_FLEISS, 1) for j, value in enumerate(row, 1)]
    ran = run_here("agreement", write(tmp_path / "table.csv", judged))
    lines = ran.stdout.splitlines()
    said = "With the present practice a value must change by 6.9 before it can be called a change"
    assert lines[0] == f"{said} (95 % interval 4.4 to 24)."
    assert lines[1] == "  24 values, 6 subjects, 4 raters"
    assert any("ICC(A,1) = ICC(2,1)" in line and "0.2898 (0.01879 to 0.7611)" in line for line in lines)


def test_text_tells_shares_in_percent_and_each_source_once(run_here, tmp_path):
    rows = [
        f"w{n},{rater},{trial},{area * factor * (1.02 if (n + trial) % 2 else 1)}"
        for n, area in enumerate((5, 10, 20))
        for rater, factor in zip("AB", (1, 1.1), strict=True)
        for trial in (1, 2)
    ]
    table = write(tmp_path / "table.csv", rows, "subject,rater,trial,value")
    document = json.loads(run_here("agreement", table, "--relative", "--json").stdout)
    share = figure(document, "measurement_error", "sdc_relative_agreement")
    low, high = share["interval_95"]
    lines = run_here("agreement", table, "--relative").stdout.splitlines()
    told = next(line for line in lines if "as a share of the size, any two raters" in line)
    assert told.endswith(f"  {100 * share['value']:.4g} % ({100 * low:.4g} to {100 * high:.4g})")
    sources = lines[next(n for n, line in enumerate(lines) if line.startswith("Sources")) + 1 :]
    assert len(set(sources)) == len(sources)
    assert sum("Graybill" in line for line in sources) == 1 + sum("Ting" in line for line in sources) == 2
    assert not any("Carkeet" in line for line in sources)  # exact limits stand in the document alone


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ((0.131, 0.1049, 12.345), "change by 0.13 before it can be called a change (95 % interval 0.10 to 12)"),
        (
            (3.4e-12, 2.96e-12, 5e-12),
            "change by 3.4e-12 before it can be called a change (95 % interval 3e-12 to 5e-12)",
        ),
        ((1234.5, 900.0, 4.5e7), "change by 1234 before it can be called a change (95 % interval 900 to 4.5e+07)"),
    ],
)
def test_each_number_of_the_first_line_has_its_own_digits(monkeypatch, ends, said):
    monkeypatch.setattr(headline, "smallest_change", lambda *_: Statistic(*ends))
    assert said in headline.number_headline(observations_of(SHROUT_FLEISS), relative=False)


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


@pytest.mark.parametrize(
    ("values", "options", "says"),
    [
        ("abab", ("--order", "a,c"), "'b' stands in the table but not among the categories a, c"),
        ("abab", ("--order", "a,b,a"), "stands twice"),
        ("abab", ("--order", " , "), "needs two categories"),
        ("1213", ("--order", "1,2"), "'3' stands in the table"),
        ("1213", ("--order", "little,much"), "names words, and the table holds numbers"),
        ("1289", ("--order", "1,2,8,x", "--categories"), "names words"),
        (("1.5", "2", "2.5", "3"), ("--order", "1.5,2,2.5,3"), "measurements, which have an order already"),
    ],
)
def test_an_order_that_does_not_fit_is_one_sentence(run_here, tmp_path, values, options, says):
    rows = [f"{n // 2},{'AB'[n % 2]},{value}" for n, value in enumerate(values)]
    ran = run_here("agreement", write(tmp_path / "table.csv", rows), *options)
    assert (ran.returncode, ran.stdout, ran.stderr.count("\n")) == (1, "", 1)
    assert says in ran.stderr


def test_an_order_of_numbers_may_run_down(asked):
    rows = [f"{n // 2},{'AB'[n % 2]},{value}" for n, value in enumerate("1213211233")]
    up, down = (asked(rows, "--categories", "--order", order) for order in ("1,2,3", "3, 2, 1,"))
    key = "kappa of A and B", "kappa_quadratic"
    assert figure(up, *key)["value"] == pytest.approx(figure(down, *key)["value"])
