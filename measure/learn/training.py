"""Trains the network: many random views, a loss that minds area and overlap, averaged weights."""

import copy
import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import torch
from torch import Tensor, nn
from torch.nn import functional

from measure.learn.augmentation import Views
from measure.learn.examples import Material
from measure.learn.network import OutlineNetwork
from measure.learn.readiness import memory_told

ALSO = 0.12
"""Share of views of examples that are learnt from only, where there are such."""

_AVERAGE = 0.998  # of the weights so far, at each step
_WARM_UP = 0.05  # share of the steps in which the rate rises


@dataclass(frozen=True)
class Settings:
    """How long and how finely to train.

    Attributes
    ----------
    steps : int
        Batches at most.
    seconds : float
        Time at most; the rate falls with whichever of the two ends first.
    batch : int
        Views in a batch.
    size : int
        Side of a view in px.
    rate : float
        Highest learning rate of the decoder; the encoder's is a third of it.
    decay : float
        Of the weights.
    seed : int
    """

    steps: int = 2200
    seconds: float = math.inf
    batch: int = 32
    size: int = 512
    rate: float = 2e-3
    decay: float = 0.02
    seed: int = 1


def train(
    network: OutlineNetwork, material: Material, settings: Settings, tell: Callable[[str], None]
) -> OutlineNetwork:
    """Train a network and return it with averaged weights, on the CPU, ready for use.

    Parameters
    ----------
    network : OutlineNetwork
        Where it starts; it is changed.
    material : Material
        A share of `ALSO` of the views is of its further examples.
    settings : Settings
    tell : callable
        Takes a line on the progress.

    Raises
    ------
    TrainingError
        If the memory is too small.
    """
    with memory_told():
        return _trained(network, material, settings, tell)


def _trained(
    network: OutlineNetwork, material: Material, settings: Settings, tell: Callable[[str], None]
) -> OutlineNetwork:
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(settings.seed)
    views = Views([*material.examples, *material.also], material.covers, device, settings.seed)
    chance = torch.ones(len(views), device=device)
    if material.also:
        first = len(material.examples)
        chance[:first], chance[first:] = (1 - ALSO) / first, ALSO / len(material.also)
    network = network.to(device, memory_format=torch.channels_last).train()
    average = copy.deepcopy(network).eval()
    optimizer = torch.optim.AdamW(
        [
            {"params": list(network.decoder_parameters()), "lr": settings.rate},
            {"params": list(network.encoder.parameters()), "lr": settings.rate / 3},
        ],
        weight_decay=settings.decay,
    )
    base = [group["lr"] for group in optimizer.param_groups]
    scaler = torch.amp.GradScaler(device.type, enabled=device.type == "cuda")
    start, done = time.monotonic(), 0.0
    step = 0
    total = 0.0
    while done < 1:
        done = max((step + 1) / settings.steps, (time.monotonic() - start) / settings.seconds)
        factor = min(1.0, done / _WARM_UP) * 0.5 * (1 + math.cos(math.pi * min(1.0, done))) + 1e-3
        for group, rate in zip(optimizer.param_groups, base, strict=True):
            group["lr"] = rate * factor
        chosen = torch.multinomial(chance, settings.batch, replacement=True, generator=views.random)
        with torch.no_grad():
            photos, masks = views.batch(chosen, settings.size)
            photos = photos.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, torch.float16, enabled=device.type == "cuda"):
            logits = network(photos)
        loss = outline_loss(logits.float(), masks)
        optimizer.zero_grad(set_to_none=True)
        scaler.scale(loss).backward()
        scaler.unscale_(optimizer)
        nn.utils.clip_grad_norm_(network.parameters(), 5.0)
        scaler.step(optimizer)
        scaler.update()
        _follow(average, network, min(_AVERAGE, (step + 1) / (step + 10)))
        step += 1
        total += loss.detach()
        if step % 200 == 0:
            tell(f"step {step}: loss {float(total) / 200:.4f}, {time.monotonic() - start:.0f} s")
            total = 0.0
    trained: OutlineNetwork = average.cpu().eval()
    return trained


def _doubled(logits: Tensor) -> Tensor:
    """Bring logits to the size of the photo."""
    return functional.interpolate(logits, scale_factor=2.0, mode="bilinear", align_corners=False)


def outline_loss(logits: Tensor, masks: Tensor) -> Tensor:
    """Return cross-entropy, more of it at the edge, plus what is missing of each view's overlap (soft Dice)."""
    logits = _doubled(logits)
    near = functional.avg_pool2d(masks, 15, 1, 7)
    edge = 1 + 3 * (4 * near * (1 - near))
    entropy = functional.binary_cross_entropy_with_logits(logits, masks, reduction="none")
    chance = torch.sigmoid(logits)
    area = masks.sum((1, 2, 3))
    both = (chance * masks).sum((1, 2, 3))
    dice = 1 - (2 * both + 20) / (chance.sum((1, 2, 3)) + area + 20)
    has = (area > 20).float()
    return (entropy * edge).mean() * 2 + (dice * has).sum() / has.sum().clamp(min=1)


def _follow(average: nn.Module, network: nn.Module, kept: float) -> None:
    """Move averaged weights a little towards the present ones."""
    pairs = zip(average.state_dict().values(), network.state_dict().values(), strict=True)
    slow, fast = zip(*((a, b) for a, b in pairs if a.dtype.is_floating_point), strict=True)
    with torch.no_grad():
        torch._foreach_lerp_(slow, fast, 1 - kept)
