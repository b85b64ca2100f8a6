"""Before a training begins: what is missing or in the way is told while nothing is lost yet."""

import sys

import pytest
from click.testing import CliRunner
from discs import example, folder_of

from measure.cli import commands
from measure.learn import readiness
from measure.learn.readiness import PACKAGES, TrainingError, check_destination


@pytest.fixture
def folder(tmp_path):
    return folder_of(tmp_path, [example()])


@pytest.fixture
def unread(monkeypatch):
    """See to it that no photograph is read."""
    from measure.learn import examples

    def read(*_):
        pytest.fail("photographs were read")

    monkeypatch.setattr(examples, "read_examples", read)


def learn_command(*arguments):
    return CliRunner().invoke(commands, ["learn", *map(str, arguments)])


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("package", PACKAGES)
def test_a_missing_package_is_told_before_photographs_are_read(folder, monkeypatch, package):
    def without(name):
        if name == package:
            raise ModuleNotFoundError(f"No module named '{name}'", name=name)

    monkeypatch.setattr(readiness, "import_module", without)
    result = learn_command(folder, "--out", folder / "new.onnx")
    assert isinstance(result.exception, TrainingError)
    assert f"needs the package {package}" in str(result.exception)
    assert "run pip install 'ebbline[train]'" in str(result.exception)
    assert not list(folder.glob("new.*"))


def test_packages_are_really_imported(monkeypatch):
    for package in PACKAGES:
        monkeypatch.setitem(sys.modules, package, None)  # Python refuses to import such a name
    with pytest.raises(TrainingError, match="needs the package torch"):
        readiness.check_packages()


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("ending", [".onnx", ".json"])
def test_a_network_that_exists_is_never_replaced(folder, ending):
    taken = folder / f"new{ending}"
    taken.write_text("in use")
    result = learn_command(folder, "--out", folder / "new.onnx")
    assert isinstance(result.exception, TrainingError)
    assert f"{taken} exists already and may be in use" in str(result.exception)
    assert [(path.name, path.read_text()) for path in folder.glob("new.*")] == [(taken.name, "in use")]


def test_a_name_that_can_be_written_leaves_no_trace(tmp_path):
    check_destination(tmp_path / "new.onnx")
    assert not list(tmp_path.iterdir())


@pytest.mark.usefixtures("unread")
def test_a_name_that_cant_be_written_is_refused(folder):
    result = learn_command(folder, "--out", folder / f"{'n' * 300}.onnx")
    assert isinstance(result.exception, TrainingError)
    assert "can't be written (File name too long): give --out another folder" in str(result.exception)


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--out", "new.ONNX"), "must end in .onnx, in small letters"),
        (("--out", "new"), "must end in .onnx"),
        (("--out", "nowhere/new.onnx"), "a folder that does not exist"),
        (("--out", "new.onnx", "--seed", -1), "-1 is not in the range"),
        (("--out", "new.onnx", "--size", 500), "500 is no multiple of 32"),
        (("--out", "new.onnx", "--batch", 0), "0 is not in the range"),
    ],
)
def test_wrong_usage_is_told(tmp_path, monkeypatch, arguments, said):
    monkeypatch.chdir(tmp_path)
    result = learn_command("wounds", *arguments)
    assert result.exit_code == 2
    assert said in " ".join(result.stderr.split())


@pytest.mark.usefixtures("unread")
def test_a_method_that_cant_answer_is_told_before_photographs_are_read(folder, monkeypatch):
    from measure import proposal
    from measure.by_network import NetworkError

    def refuse(method):
        raise NetworkError(f"{method} can't be read as a network.")

    monkeypatch.setattr(proposal, "check_method", refuse)
    result = learn_command(folder, "--out", folder / "new.onnx", "--method", "old.onnx")
    assert isinstance(result.exception, NetworkError)
