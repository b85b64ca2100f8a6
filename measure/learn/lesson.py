"""One lesson: train on most groups, learn from others how far to trust it, and compare it with the present network."""

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import torch

from measure.by_network import Facts
from measure.learn.covers import covers
from measure.learn.examples import Example, Material, split
from measure.learn.export import write_network
from measure.learn.network import OutlineNetwork, pretrained
from measure.learn.picture import ExamplesError
from measure.learn.training import Settings, train
from measure.learn.trust import trusted

FEWEST = 20
"""Groups needed: with fewer a fifth held out says nothing."""

_LEAST_PX = 25.0  # of a picture 512 px wide: 3 mm2 where it spans 180 mm, as beside a sticker
_HESITATION = 2.0  # logits: 12 to 88 %


@dataclass(frozen=True, eq=False)
class Lesson:
    """What came of it.

    Attributes
    ----------
    path : Path
        The new network's weights; its facts lie beside it.
    learnt : int
        Photographs learnt from.
    held_out : tuple of Example
        To compare on: neither learnt from nor looked at.
    """

    path: Path
    learnt: int
    held_out: tuple[Example, ...]


def learn(
    examples: Sequence[Example],
    also: Sequence[Example],
    path: Path,
    settings: Settings,
    tell: Callable[[str], None],
) -> Lesson:
    """Train a network and write it, with its facts, to ``path``; nothing that is in use changes.

    It trains twice: first without a part of what may be learnt from, which then tells how far such a network can be
    trusted; then with all of it. The groups held out for a comparison are seen by neither.

    Parameters
    ----------
    examples : sequence of Example
    also : sequence of Example
        More to learn from, that nothing is tried on, such as rendered scenes.
    path : Path
        Where the weights go (.onnx); the facts go beside them (.json). Its stem becomes the network's name.
    settings : Settings
        Of each of the two trainings.
    tell : callable
        Takes a line on the progress.

    Raises
    ------
    ExamplesError
        If there are too few groups, or none of them shows a wound.
    """
    groups = {example.group for example in examples}
    if len(groups) < FEWEST or not any(example.mask.any() for example in examples):
        with_wound = sum(bool(example.mask.any()) for example in examples)
        raise ExamplesError(
            f"Too few examples: {len(groups)} groups of photographs, a wound in {with_wound} of the photos; at least "
            f"{FEWEST} groups and one wound are needed, and some hundred make it worth while."
        )
    seen, held_out = split(examples)
    part, unseen = split(seen)
    facts = Facts(path.stem, settings.size, 0.0, 0.0, _LEAST_PX * (settings.size / 512) ** 2, _HESITATION, 1.0)
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "trial.onnx"
        tell(f"First training, on {len(part)} photographs; {len(unseen)} then tell how far to trust it.")
        write_network(_trained(part, also, settings, tell), facts, trial)
        facts = trusted(trial, facts, unseen)
    tell(f"Second training, on {len(seen)} photographs.")
    write_network(_trained(seen, also, settings, tell), facts, path)
    return Lesson(path, len(seen), held_out)


def _trained(
    examples: Sequence[Example], also: Sequence[Example], settings: Settings, tell: Callable[[str], None]
) -> OutlineNetwork:
    torch.manual_seed(settings.seed)  # the decoder's first weights are drawn
    network = OutlineNetwork()
    network.load_encoder(pretrained())
    material = Material(tuple(examples), tuple(also), covers(settings.seed))
    return train(network, material, settings, tell)
