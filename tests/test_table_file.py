"""Tables from spreadsheets: every way in which they are saved, and one sentence for what can't be read."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from measure.agreement.errors import AgreementError
from measure.agreement.table_file import read_observations

PLAIN = "subject,rater,value\np1,A,3.5\np1,B,4\np2,A,1.25\n"


def _read(text, encoding="utf-8", **options):
    return read_observations(text.encode(encoding), **options)


def _told(text):
    with pytest.raises(AgreementError) as caught:
        _read(text)
    return str(caught.value)


def _same(found, subjects=("p1", "p1", "p2"), raters=("A", "B", "A"), values=(3.5, 4.0, 1.25)):
    return (tuple(found.subject), tuple(found.rater), tuple(found.value)) == (subjects, raters, values)


def test_a_plain_table_is_read():
    found = _read(PLAIN, unit="cm2")
    assert _same(found)
    assert found.value.dtype == np.float64
    assert (found.unit, found.missing) == ("cm2", 0)
    assert list(found.trial) == ["1", "1", "1"]
    assert found.methods == ("",)


def test_a_file_is_read_like_its_bytes(tmp_path):
    path = tmp_path / "table.csv"
    path.write_bytes(PLAIN.encode())
    assert _same(read_observations(path))


@pytest.mark.parametrize(
    "text",
    [
        "Value, RATER ,Subject\n3.5,A,p1\n4,B,p1\n1.25,A,p2",
        "subject;rater;value\np1;A;3,5\np1;B;4\np2;A;1,25\n",
        "subject\trater\tvalue\np1\tA\t3,5\np1\tB\t4,0\np2\tA\t1,25\n",
        "subject;rater;value\np1;A;3.5\np1;B;4\np2;A;1.25\n",
        "subject,rater,value\r\np1,A,3.5\r\n\r\np1,B,4\r\n  ,,\r\np2,A,1.25\r\n",
        'sep=;\n"subject";"rater";"value"\n"p1";"A";"3,5"\n"p1";"B";"4"\n"p2";"A";"1,25"\n',
        "id,subject,note,rater,value\n7,p1,fine,A,3.5\n8,p1,,B,+4e0\n9,p2,x,A,1.25,,\n",
        '"a note, or two",subject, "rater",value\n,p1, "A",3.5\n"x, y",p1,B,4\n,p2,A,1.25\n',
        "\n;;\nsubject;rater;value;\np1;A;3,5;\np1;B;4;\np2;A;1,25;\n",
    ],
    ids=[
        "order and case",
        "semicolons",
        "tabs",
        "points",
        "blank lines",
        "quotes",
        "more columns",
        "quoted commas",
        "empty column",
    ],
)
def test_what_spreadsheets_save_is_the_same_table(text):
    assert _same(_read(text))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_letters_are_read_however_they_are_encoded(encoding):
    found = _read("subject,rater,value\nFuß,Zoë,−2.5\n" if encoding != "cp1252" else PLAIN, encoding)  # noqa: RUF001
    if encoding != "cp1252":
        assert _same(found, ("Fuß",), ("Zoë",), (-2.5,))
    found = _read("subject,rater,value\nFuß,Zoë,2.5\n", encoding)
    assert _same(found, ("Fuß",), ("Zoë",), (2.5,))


def test_empty_values_are_counted_and_keep_their_trial():
    found = _read("subject,rater,value\np1,A,\np1,A,3\np1,A,4\np2,A, \np2,A\n")
    assert found.missing == 3
    assert list(found.trial) == ["2", "3"]
    assert list(found.value) == [3, 4]


def test_trials_are_numbered_for_each_subject_rater_and_method():
    rows = "p1,A,ruler,1\np1,B,ruler,2\np1,A,ruler,3\np1,A,photo,4\np2,A,ruler,5\n"
    found = _read("subject,rater,method,value\n" + rows)
    assert list(found.trial) == ["1", "1", "2", "1", "1"]
    assert found.methods == ("ruler", "photo")


def test_trials_that_are_named_keep_their_names():
    found = _read("subject,rater,trial,value\np1,A,evening,1\np1,A,morning,2\n")
    assert list(found.trial) == ["evening", "morning"]


def test_values_without_a_number_are_categories():
    found = _read("subject,rater,value\np1,A,slough\np1,B,2+\np2,A,stage 3\np2,B,\n")
    assert not found.numeric
    assert list(found.value) == ["slough", "2+", "stage 3"]
    assert found.missing == 1


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (("1", "2", "slough"), "Line 4 holds 'slough', no number, and other lines hold numbers"),
        (("slough", "3", "eschar"), "Line 3 holds '3', a number, and other lines hold none"),
        (("1", "NA", "2"), "Line 3 holds 'NA', no number, and other lines hold numbers"),
        (("1", "nan", "2"), "Line 3 holds 'nan', no number"),
        (("1", "3 cm", "2"), "Line 3 holds '3 cm', no number"),
        (("1", '"2,5"', "2"), "Line 3 holds '2,5', which can't be read as a number"),
        (('"1,5"', '"2,5"', '"2,0"'), "Line 2 holds '1,5', which can't be read as a number"),
        (("1", '"1,234.5"', "2"), "Line 3 holds '1,234.5', which can't be read as a number"),
        (("1", "1.2.3", "2"), "Line 3 holds '1.2.3', which can't be read as a number"),
        (("1", "1e999", "2"), "no finite number"),
    ],
)
def test_values_that_are_not_all_alike_are_told_with_their_line(values, sentence):
    rows = "".join(f"p{number},A,{value}\n" for number, value in enumerate(values))
    assert sentence in _told("subject,rater,value\n" + rows)


def test_two_decimal_signs_in_one_table_are_refused():
    told = _told("subject;rater;value\np1;A;1,5\np2;A;2,5\np3;A;1.234\n")
    assert told.startswith("Line 4 holds '1.234', and other lines have another decimal sign")
    assert "1.234,5" in _told("subject;rater;value\np1;A;1,5\np2;A;1.234,5\n")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "The file is empty"),
        ("\n ;; \n", "The file is empty"),
        ("subject,rater,value\n", "a heading and no rows"),
        ("subject,rater,value\np1,A,\np2,A,\n", "None of the table's 2 rows holds a value"),
        ("subject,nurse,area\np1,A,3\n", "rater and value are not among subject, nurse, area."),
        ("subject,rater\np1,A\n", "value is not among subject, rater."),
        ("p1,A,3.5\n", "subject and rater and value are not among p1, a, 3.5."),
        ("subject,rater,value,Value\np1,A,3,4\n", "names the column value 2 times"),
        ("subject,rater,value\np1,A,3,5\n", "Line 2 has 4 cells, and the heading 3"),
        ("subject,rater,value\np1,A,3\n,A,3\n", "Line 3 names no subject"),
        ("subject,rater,value\np1,,\n", "Line 2 names no rater"),
        ("subject,rater,trial,value\np1,A,1,3\np1,A,,4\n", "Line 3 names no trial"),
        ("subject,rater,method,value\np1,A,,3\np1,A,ruler,4\n", "Line 2 names no method"),
        ("subject,rater,trial,value\np1,A,1,3\np1,A,1,4\n", "Trial 1 of p1 by A stands in the table 2 times"),
        ('subject,rater,value\np1,A,3\np2,"A,4\np3,A,5\n', "look for a quotation mark without its other"),
        ("subject,rater,value\np1,A\0,3\n", "The file is no text"),
    ],
)
def test_what_can_not_be_read_is_said(text, sentence):
    assert sentence in _told(text)


def test_lines_are_counted_as_the_file_has_them():
    assert list(_read('subject,rater,value\n"p\n 1",A,3\n').subject) == ["p 1"]
    told = _told('sep=,\n\nsubject,rater,value\n"p\n1",A,3\n\np2,A,x\n')
    assert told.startswith("Line 7 holds 'x'")


@pytest.mark.parametrize("content", [b"PK\x03\x04\x14\x00\x06\x00\x08", b"\xff\xfes\x00u", b"\xff\xfe\x00\xd8"])
def test_other_files_are_no_tables(content):
    with pytest.raises(AgreementError, match=r"no text|must name the columns"):
        read_observations(content)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(AgreementError, match=r"missing\.csv can't be read \(No such file or directory\)"):
        read_observations(tmp_path / "missing.csv")
    with pytest.raises(AgreementError, match="can't be read"):
        read_observations(tmp_path)


@settings(max_examples=60)
@given(
    st.lists(st.floats(-1e6, 1e6).map(lambda value: round(value, 3)), min_size=1, max_size=8),
    st.sampled_from([(",", "."), (";", ","), (";", "."), ("\t", ","), ("\t", ".")]),
)
def test_numbers_come_back_as_they_were_written(values, signs):
    separator, decimal = signs
    rows = [(f"p{number}", "A", f"{value:.3f}".replace(".", decimal)) for number, value in enumerate(values)]
    text = "\n".join(separator.join(row) for row in [("subject", "rater", "value"), *rows])
    assert list(_read(text).value) == values


@settings(max_examples=60)
@given(st.text(st.sampled_from('p1A,;\t"\n\r.-e\0 '), max_size=30), st.sampled_from(["", "subject,rater,value\n"]))
def test_whatever_a_file_holds_is_read_or_told(text, heading):
    try:
        found = _read(heading + text)
    except AgreementError:
        return
    assert len(found.value) == len(found.subject) > 0


def test_a_line_without_end_is_told():
    assert "Line 1 of the table can't be read" in _told("x" * 200_000)
    assert "Line 2 of the table can't be read" in _told("subject,rater,value\np1,A," + "x" * 200_000)


def test_large_tables_are_read():
    rows = "".join(f"photo {number // 20},rater {number % 10},{number / 7:.3f}\n" for number in range(5000))
    found = _read("subject,rater,value\n" + rows)
    assert len(found.value) == 5000
    assert set(found.trial) == {"1", "2"}
