"""The commands: their contract, and a sentence for everything that can go wrong."""

import json
import shutil
import struct
import subprocess
import sys
import zlib
from io import BytesIO

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from measure.cli import commands, main
from measure.flags import FLAGS


def run(*words, env=None):
    """Run a command in a process of its own, as a person does."""
    return subprocess.run(
        [sys.executable, "-m", "measure", *map(str, words)], capture_output=True, text=True, check=False, env=env
    )


def document(*words):
    """Run ``measure --json`` in this process and return the document."""
    result = CliRunner().invoke(commands, ["measure", *map(str, words), "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.fixture(scope="module")
def measured(first_sample):
    return document(first_sample.photo, "--outline", first_sample.outline)


# ---------------------------------------------------------------- measure: the document


def test_document_has_the_keys_of_the_contract(measured):
    assert set(measured) == {
        "photo", "calibration", "surface", "colour", "checks", "acceptance", "editing", "tissue_said", "control",
        "wounds", "flags",
    }  # fmt: skip
    assert set(measured["photo"]) == {"path", "sha256", "width", "height", "taken_at"}
    assert set(measured["calibration"]) == {
        "source", "layouts", "tilt_deg", "mm_per_px", "residual_px", "relative_scale_uncertainty",
    }  # fmt: skip
    for check in measured["checks"]:
        assert set(check) == {"check", "ok", "value", "limit", "sentence"}
    (wound,) = measured["wounds"]
    assert set(wound) >= {
        "source", "method", "outline", "holes", "area_cm2", "perimeter_cm", "length_cm", "width_cm", "convention",
        "length_x_width_cm2", "ellipse_cm2", "shape", "tissue",
    }  # fmt: skip
    assert set(wound["tissue"]) == {"granulation", "slough", "necrotic", "epithelial", "unclear"}
    for share in wound["tissue"].values():
        assert set(share) == {"percent", "standard_uncertainty", "components"}
    assert set(wound["shape"]) >= {"circularity", "solidity", "aspect_ratio"}
    for name in ("area_cm2", "perimeter_cm", "length_cm", "width_cm", "length_x_width_cm2", "ellipse_cm2"):
        assert set(wound[name]) == {"value", "standard_uncertainty", "components"}


def test_proportions_of_tissue_sum_to_100_and_are_those_of_the_bed(measured, first_sample):
    """Truth by construction: ``truth.csv``, which the renderer wrote."""
    found = measured["wounds"][0]["tissue"]
    assert sum(share["percent"] for share in found.values()) == pytest.approx(100, abs=0.01)
    for name, percent in first_sample.tissue_percent.items():
        assert abs(found[name]["percent"] - percent) < max(4.0, 2 * found[name]["standard_uncertainty"])
    assert measured["colour"]["used"]
    assert measured["colour"]["residual_ciede2000"] < 3


def test_what_a_person_said_of_tissue_is_heard_and_kept(first_sample, tmp_path):
    said = json.loads(first_sample.outline.read_text(encoding="utf-8"))
    middle = np.array(said["wounds"][0]["outline"]).mean(axis=0).tolist()
    estimate = {"by": "AB", "percent": {"granulation": 70, "slough": 30}}
    said["wounds"][0]["tissue_by_eye"] = estimate
    said |= {"tissue_said": [{"at": middle, "tissue": "necrotic", "by": "AB"}], "control": {"at": [5, 5], "by": "AB"}}
    file = tmp_path / "said.json"
    file.write_text(json.dumps(said), encoding="utf-8")
    heard = document(first_sample.photo, "--outline", file, "--culture")
    (wound,) = heard["wounds"]
    assert heard["tissue_said"] == said["tissue_said"]
    assert heard["control"] == said["control"]
    (region,) = wound["tissue_by_hand"]
    assert region["tissue"] == "necrotic"
    assert wound["tissue"]["necrotic"]["percent"] >= region["percent"] - 1e-3
    assert wound["tissue_by_eye"]["percent"]["slough"] == 30
    assert wound["redness"]["bands"] == []  # the corner of the photo is no skin: the sentence says so
    assert wound["redness"]["sentences"]
    assert wound["swab_site"]
    file.write_text(json.dumps(heard), encoding="utf-8")  # what was saved can be measured again
    again = document(first_sample.photo, "--outline", file)
    assert again["wounds"][0]["tissue"] == wound["tissue"]


def test_without_a_sticker_nothing_is_said_of_colour(first_sample):
    found = document(first_sample.photo, "--scale", "100,100,700,100,50", "--outline", first_sample.outline)
    assert found["colour"]["source"] == "none"
    assert found["wounds"][0]["tissue"] is None
    assert found["wounds"][0]["redness"] is None
    assert "colour-unknown" in [flag["code"] for flag in found["flags"]]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"tissue_said": {"at": [1, 2]}}, "under 'tissue_said' is not in the form"),
        ({"tissue_said": [{"at": [1, 2], "tissue": "fat", "by": ""}]}, "'fat' was said to be a tissue"),
        ({"tissue_said": [{"at": [1], "tissue": "slough", "by": ""}]}, "under 'tissue_said' is not in the form"),
        ({"tissue_said": [{"at": [1, float("inf")], "tissue": "slough"}]}, "under 'tissue_said' is not in the form"),
        ({"tissue_said": [{"at": [1, 2], "tissue": "slough", "by": 7}]}, "under 'tissue_said' is not in the form"),
        ({"control": [1, 2]}, "under 'control' is not in the form"),
        ({"control": {"at": [1, 2], "by": "a name that is much too long"}}, "give initials"),
    ],
)
def test_words_in_another_form_are_a_sentence(run_here, first_sample, tmp_path, words, said):
    file = tmp_path / "said.json"
    outlined = json.loads(first_sample.outline.read_text(encoding="utf-8"))
    file.write_text(json.dumps(outlined | words), encoding="utf-8")
    result = run_here("measure", first_sample.photo, "--outline", file)
    assert result.returncode == 1
    assert said in result.stderr


def test_tissue_in_a_picture_needs_the_picture(run_here, first_sample):
    result = run_here("measure", first_sample.photo, "--tissue")
    assert result.returncode == 2
    assert "--tissue says what --overlay shows" in result.stderr


def test_document_values_are_in_cm(measured, first_sample):
    (wound,) = measured["wounds"]
    assert wound["area_cm2"]["value"] == pytest.approx(first_sample.area_cm2, rel=0.01)
    assert wound["length_cm"]["value"] == pytest.approx(first_sample.length_cm, rel=0.005)
    assert wound["convention"] == "longest-perpendicular"
    assert measured["calibration"]["source"] == "sticker"
    assert measured["calibration"]["layouts"] == ["corner"]
    assert measured["photo"]["taken_at"].startswith("20")


def test_components_combine_to_the_standard_uncertainty(measured):
    """JCGM 100:2008, 5.1.2; six digits are printed."""
    area = measured["wounds"][0]["area_cm2"]
    combined = area["value"] * np.hypot.reduce(list(area["components"].values()))
    assert area["standard_uncertainty"] == pytest.approx(combined, rel=1e-4)


def test_document_can_be_given_back_as_the_outline(measured, first_sample, tmp_path):
    kept = tmp_path / "kept.json"
    kept.write_text(json.dumps(measured), encoding="utf-8")
    again = document(first_sample.photo, "--outline", kept)
    assert again["wounds"][0]["area_cm2"]["value"] == pytest.approx(
        measured["wounds"][0]["area_cm2"]["value"], rel=1e-4
    )


def test_flags_are_known(measured):
    assert {flag["code"] for flag in measured["flags"]} <= set(FLAGS)


def test_convention_is_stored_and_changes_the_numbers(measured, first_sample):
    other = document(first_sample.photo, "--outline", first_sample.outline, "--convention", "head-to-toe")
    assert other["wounds"][0]["convention"] == "head-to-toe"
    assert other["wounds"][0]["length_cm"]["value"] < measured["wounds"][0]["length_cm"]["value"]
    assert other["wounds"][0]["area_cm2"]["value"] == measured["wounds"][0]["area_cm2"]["value"]


def test_scale_by_hand_needs_no_sticker(tmp_path):
    photo = tmp_path / "plain.png"
    Image.new("RGB", (800, 600), (200, 160, 140)).save(photo)
    outline = tmp_path / "o.json"
    square = [[100, 100], [300, 100], [300, 300], [100, 300]]
    outline.write_text(json.dumps({"wounds": [{"outline": square}]}), encoding="utf-8")
    found = document(photo, "--outline", outline, "--scale", "100,500,600,500,50")
    assert found["calibration"]["source"] == "two points"
    assert found["calibration"]["tilt_deg"] is None
    assert found["wounds"][0]["area_cm2"]["value"] == pytest.approx(4.0)


def test_overlay_is_written(first_sample, tmp_path):
    document(first_sample.photo, "--outline", first_sample.outline, "--overlay", tmp_path / "seen.png")
    with Image.open(tmp_path / "seen.png") as overlay:
        assert max(overlay.size) == 2048


def test_stdout_is_the_document_alone(first_sample):
    done = run("measure", first_sample.photo, "--json")
    assert done.returncode == 0
    json.loads(done.stdout)
    assert done.stderr == ""


def test_a_tilted_photo_is_kept_with_a_reason(tilted):
    kept = document(tilted, "--accept", "  No second photo was possible ")
    assert kept["acceptance"] == {"reason": "No second photo was possible", "failed_checks": ["tilt"]}
    assert document(tilted) == kept | {"acceptance": None}


def test_one_reason_may_go_with_several_photos(tilted, first_sample):
    words = ["measure", str(tilted), str(first_sample.photo), "--accept", "Best of three", "--json"]
    first, second = json.loads(CliRunner().invoke(commands, words).stdout)
    assert first["acceptance"]["failed_checks"] == ["tilt"]
    assert second["acceptance"] is None


def test_the_text_says_in_spite_of_what_a_photo_was_kept(tilted):
    result = CliRunner().invoke(commands, ["measure", str(tilted), "--accept", "Best of three"])
    assert result.exit_code == 0
    assert "\n  accepted in spite of: tilt - 'Best of three'\n" in result.stdout
    assert "accepted" not in CliRunner().invoke(commands, ["measure", str(tilted)]).stdout


def test_plain_output_shows_value_and_k(first_sample):
    result = CliRunner().invoke(commands, ["measure", str(first_sample.photo)])
    assert result.exit_code == 0
    assert "(k = 2)" in result.stdout
    assert "cm2" in result.stdout


# ---------------------------------------------------------------- several photos


def test_one_bad_photo_does_not_stop_the_rest(first_sample, tmp_path):
    bad = tmp_path / "bad.jpg"
    bad.write_text("not a photo", encoding="utf-8")
    result = CliRunner().invoke(commands, ["measure", str(bad), str(first_sample.photo), "--json"])
    assert result.exit_code == 1
    first, second = json.loads(result.stdout)
    assert first["wounds"] == []
    assert first["flags"][0]["code"] == "unreadable-photo"
    assert len(second["wounds"]) == 1
    assert "[1/2]" in result.stderr
    assert "bad.jpg" in result.stderr


def test_overlays_of_several_photos_get_their_names(first_sample, tmp_path):
    copies = [tmp_path / "a.jpg", tmp_path / "b.jpg"]
    for copy in copies:
        shutil.copy(first_sample.photo, copy)
    result = CliRunner().invoke(commands, ["measure", *map(str, copies), "--overlay", str(tmp_path / "seen.png")])
    assert result.exit_code == 0
    assert {path.name for path in tmp_path.glob("seen*")} == {"seen.a.png", "seen.b.png"}


def test_overlays_of_photos_of_the_same_name_do_not_replace_each_other(first_sample, tmp_path):
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        shutil.copy(first_sample.photo, tmp_path / folder / "a.jpg")
    photos = [str(tmp_path / folder / "a.jpg") for folder in ("one", "two")]
    assert CliRunner().invoke(commands, ["measure", *photos, "--overlay", str(tmp_path / "s.png")]).exit_code == 0
    assert {path.name for path in tmp_path.glob("s.*")} == {"s.a.png", "s.a-2.png"}


# ---------------------------------------------------------------- wrong usage: exit 2


@pytest.mark.parametrize(
    "words",
    [
        ["measure"],
        ["measure", "a.jpg", "--convention", "widest"],
        ["measure", "a.jpg", "--scale", "1,2,3"],
        ["measure", "a.jpg", "b.jpg", "--outline", "o.json"],
        ["measure", "a.jpg", "--head", "90"],
        ["measure", "a.jpg", "--convention", "head-to-toe", "--head", "nan"],
        ["measure", "a.jpg", "--convention", "head-to-toe", "--head", "inf"],
        ["measure", "a.jpg", "--convention", "head-to-toe", "--head", "1e300"],
        ["measure", "a.jpg", "--close"],
        ["measure", "a.jpg", "--accept", " "],
        ["measure", "a.jpg", "--accept", "two\nlines"],
        ["measure", "a.jpg", "--accept", "x" * 201],
        ["measure", "a.jpg", "--overlay", "seen.gif"],
        ["measure", "a.jpg", "--overlay", "a.jpg"],
        ["measure", "a.jpg", "--outline", "o.png", "--overlay", "o.png"],
        ["sticker"],
        ["sticker", "corner"],
        ["sticker", "round", "--out", "a.pdf"],
        ["nonsense"],
    ],
    ids=" ".join,
)
def test_wrong_usage_exits_2(words):
    result = CliRunner().invoke(commands, words)
    assert result.exit_code == 2
    assert result.stdout == ""


@pytest.mark.parametrize("command", [[], ["sticker"], ["measure"], ["app"]], ids=lambda words: " ".join(words) or "top")
def test_help_has_an_example(command):
    result = CliRunner().invoke(commands, [*command, "--help"])
    assert result.exit_code == 0
    assert "Example:\n" in result.stdout
    assert "\b" not in result.stdout


# ---------------------------------------------------------------- bad input: exit 1, one sentence, no traceback


def _png_header(width, height):
    """Make a PNG that claims a size and carries nothing (PNG specification, 11.2.1 IHDR)."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))


def _animated():
    frames = [Image.new("P", (300, 300), colour) for colour in (1, 2, 3)]
    buffer = BytesIO()
    frames[0].save(buffer, "GIF", save_all=True, append_images=frames[1:], duration=100)
    return buffer.getvalue()


def _mirrored(photo):
    with Image.open(photo) as image:
        buffer = BytesIO()
        image.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()


def _plain(mode="RGB", form="JPEG"):
    buffer = BytesIO()
    Image.new(mode, (900, 700)).save(buffer, form)
    return buffer.getvalue()


BAD = {
    "text.jpg": lambda _: b"This is a note about a wound.",
    "empty.jpg": lambda _: b"",
    "truncated.jpg": lambda photo: photo.read_bytes()[:200_000],
    "moving.gif": lambda _: _animated(),
    "absurd.png": lambda _: _png_header(90_000, 90_000),
    "no-sticker.jpg": lambda _: _plain(),
    "no-sticker-cmyk.jpg": lambda _: _plain("CMYK"),
    "no-sticker-16-bit.png": lambda _: _plain("I;16", "PNG"),
    "mirrored.jpg": _mirrored,
}


@pytest.mark.parametrize("name", BAD)
def test_bad_photos_exit_1_with_one_sentence(run_here, name, first_sample, tmp_path):
    path = tmp_path / name
    path.write_bytes(BAD[name](first_sample.photo))
    done = run_here("measure", path, "--json")
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert done.stderr.strip().endswith(".")
    assert "Traceback" not in done.stderr
    refused = json.loads(done.stdout)
    assert refused["calibration"]["source"] == "none"
    assert refused["wounds"] == []
    assert refused["flags"][0]["sentence"] == done.stderr.strip()


@pytest.mark.parametrize("convert", ["cmyk", "16-bit"])
def test_cmyk_and_16_bit_photos_work(convert, first_sample, tmp_path):
    with Image.open(first_sample.photo) as image:
        small = image.convert("RGB").resize((2016, 1512))
    if convert == "cmyk":
        path = tmp_path / "cmyk.jpg"
        small.convert("CMYK").save(path, "JPEG", quality=92)
    else:
        path = tmp_path / "deep.png"
        grey = np.asarray(small.convert("L")).astype(np.uint16) * 257
        Image.fromarray(grey).save(path)
    assert document(path)["calibration"]["layouts"] == ["corner"]


def test_a_bad_photo_is_a_sentence_in_a_process_of_its_own_too(first_sample, tmp_path):
    path = tmp_path / "truncated.jpg"
    path.write_bytes(BAD["truncated.jpg"](first_sample.photo))
    done = run("measure", path, "--json")
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert json.loads(done.stdout)["flags"][0]["sentence"] == done.stderr.strip()


def test_missing_photo_is_a_sentence(tmp_path):
    done = run("measure", tmp_path / "none.jpg")
    assert done.returncode == 1
    assert "none.jpg" in done.stderr
    assert done.stderr.count("\n") == 1


def test_bad_outlines_are_a_sentence(first_sample, tmp_path):
    path = tmp_path / "o.json"
    path.write_text('{"wounds": []', encoding="utf-8")
    result = CliRunner().invoke(commands, ["measure", str(first_sample.photo), "--outline", str(path)])
    assert result.exit_code == 1
    assert result.stderr.count("\n") == 1


def test_an_unwritable_overlay_is_a_sentence(run_here, first_sample, tmp_path):
    done = run_here("measure", first_sample.photo, "--overlay", tmp_path / "none" / "seen.png", "--json")
    assert done.returncode == 1
    assert "can't be written" in done.stderr
    assert done.stderr.count("\n") == 1
    assert json.loads(done.stdout)["wounds"], "the measurement itself is not lost"


@pytest.mark.parametrize(
    "scale", ["0,0,90000,0,50", "nan,0,500,0,50", "inf,0,500,0,50", "1,1,600,1,1e300", "1,1,600,1,1e-6", "1,1,2,2,5"]
)
def test_a_scale_that_makes_no_sense_is_a_sentence(scale, first_sample):
    result = CliRunner().invoke(commands, ["measure", str(first_sample.photo), "--scale", scale])
    assert result.exit_code == 1
    assert result.stderr.count("\n") == 1


def test_what_nobody_foresaw_stops_one_photo_only(first_sample, monkeypatch):
    from measure import pipeline

    real, calls = pipeline.prepare, []

    def failing(photo, **options):
        calls.append(photo)
        if len(calls) == 1:
            raise RuntimeError("two\nlines")
        return real(photo, **options)

    monkeypatch.setattr(pipeline, "prepare", failing)
    photo = str(first_sample.photo)
    result = CliRunner().invoke(commands, ["measure", photo, photo, "--json"])
    assert result.exit_code == 1
    first, second = json.loads(result.stdout)
    assert first["flags"][0]["code"] == "unexpected"
    assert len(second["wounds"]) == 1
    assert "RuntimeError: two lines" in result.stderr


def test_the_unexpected_is_a_sentence_too(monkeypatch, capsys):
    monkeypatch.setattr("measure.cli.commands", lambda **_: 1 / 0)
    with pytest.raises(SystemExit, match="1"):
        main()
    said = capsys.readouterr().err
    assert "ZeroDivisionError" in said
    assert "Traceback" not in said


def test_the_unexpected_can_be_looked_into(monkeypatch):
    monkeypatch.setattr("measure.cli.commands", lambda **_: 1 / 0)
    monkeypatch.setenv("EBBLINE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        main()


# ---------------------------------------------------------------- sticker


def test_stickers_are_listed_with_their_size():
    result = CliRunner().invoke(commands, ["sticker", "--list", "--json"])
    sizes = {entry["layout"]: (entry["width_mm"], entry["height_mm"]) for entry in json.loads(result.stdout)["layouts"]}
    assert sizes == {"corner": (80, 60), "strip": (100, 20), "tile": (26, 26)}
    assert "corner" in CliRunner().invoke(commands, ["sticker", "--list"]).stdout


@pytest.mark.parametrize("suffix", ["pdf", "svg", "png"])
def test_sticker_is_written(suffix, tmp_path):
    path = tmp_path / f"tile.{suffix}"
    result = CliRunner().invoke(commands, ["sticker", "tile", "--out", str(path), "--dpi", "300", "--paper", "letter"])
    assert result.exit_code == 0
    assert result.stdout == ""
    assert path.stat().st_size > 500


def test_sticker_in_another_format_is_a_sentence(run_here, tmp_path):
    done = run_here("sticker", "tile", "--out", tmp_path / "tile.gif")
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
