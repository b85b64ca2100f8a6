"""Examples seen anew each time: from nearer or farther, turned, in another light, sharper or less, partly covered."""

from collections.abc import Sequence

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

from measure.learn.examples import Example
from measure.overlap import SPECK_PX

_NEAREST, _FARTHEST = 2.6, 0.7  # magnification
_AT_WOUND = 0.75  # share of views that are aimed at a wound
_POINTS = 256  # places on the wound kept of each example, to aim at
_SHEAR, _STRETCH, _PERSPECTIVE = 0.06, 0.08, 0.12
_GAMMA, _GAIN, _CAST, _CONTRAST, _SATURATION, _MIX = 0.22, 0.22, 0.10, 0.15, 0.22, 0.03  # standard deviations
_UNEVEN, _BLURRED, _NOISY, _COVERED, _SPLICED = 0.4, 0.35, 0.35, 0.35, 0.2  # shares of views
_MOST_COVERED = 0.5  # of a wound's area; views that lose more are left uncovered
_KERNEL = 13


class Views:
    """Random views of examples, made on the device that trains.

    Parameters
    ----------
    examples : sequence of Example
    covers : sequence of ndarray of uint8, shape (H, W, 4)
        RGBA pictures of things that lie on skin and are no wound.
    device : torch.device
    seed : int
    """

    def __init__(
        self, examples: Sequence[Example], covers: Sequence[NDArray[np.uint8]], device: torch.device, seed: int
    ) -> None:
        self.device = device
        self.random = torch.Generator(device).manual_seed(seed)
        self.side = max(max(example.mask.shape) for example in examples)
        self.photos = torch.zeros(len(examples), 3, self.side, self.side, dtype=torch.uint8, device=device)
        self.masks = torch.zeros(len(examples), 1, self.side, self.side, dtype=torch.uint8, device=device)
        self.sizes = torch.tensor([example.mask.shape[::-1] for example in examples], dtype=torch.float32).to(device)
        aims = torch.zeros(len(examples), _POINTS, 2)
        for n, example in enumerate(examples):
            height, width = example.mask.shape
            self.photos[n, :, :height, :width] = torch.from_numpy(example.photo.copy()).permute(2, 0, 1).to(device)
            self.masks[n, 0, :height, :width] = torch.from_numpy(example.mask.astype(np.uint8)).to(device)
            aims[n] = torch.from_numpy(_aims(example, np.random.default_rng(seed + n)))
        self.aims = aims.to(device)
        self.covers = _cover_bank(covers).to(device)

    def __len__(self) -> int:
        return len(self.photos)

    def batch(self, chosen: Tensor, size: int) -> tuple[Tensor, Tensor]:
        """Return a view of each chosen example.

        Returns
        -------
        photos : float32, shape (B, 3, size, size)
            RGB from 0 to 255.
        masks : float32, shape (B, 1, size, size)
            Share of wound in each pixel.
        """
        grid = self._grid(chosen, size)
        photos = functional.grid_sample(self.photos[chosen].float(), grid, align_corners=False)
        masks = functional.grid_sample(self.masks[chosen].float(), grid, align_corners=False)
        photos, masks = self._spliced(photos, masks)
        if len(self.covers):
            photos, masks = self._covered(photos, masks)
        return self._noisy(self._blurred(self._lit(photos / 255))).clamp(0, 1) * 255, masks

    def _uniform(self, low: float, high: float, *shape: int) -> Tensor:
        return low + (high - low) * torch.rand(shape, generator=self.random, device=self.device)

    def _normal(self, sigma: float, *shape: int) -> Tensor:
        return sigma * torch.randn(shape, generator=self.random, device=self.device)

    def _some(self, share: float, *shape: int) -> Tensor:
        return torch.rand(shape, generator=self.random, device=self.device) < share

    def _grid(self, chosen: Tensor, size: int) -> Tensor:
        """Return where each pixel of the views is read from, in `grid_sample`'s units."""
        count = len(chosen)
        zoom = torch.exp(self._uniform(float(np.log(_FARTHEST)), float(np.log(_NEAREST)), count))
        field = self.side / zoom  # px of the example that a view spans
        field = torch.minimum(field, 1.4 * self.sizes[chosen].amax(1))
        pick = torch.randint(_POINTS, (count,), generator=self.random, device=self.device)
        at_wound = self.aims[chosen, pick] + self._uniform(-0.4, 0.4, count, 2) * field[:, None]
        anywhere = self._uniform(0, 1, count, 2) * self.sizes[chosen]
        middle = torch.where(self._some(_AT_WOUND, count)[:, None], at_wound, anywhere)
        room = torch.minimum(0.35 * field[:, None], self.sizes[chosen] / 2)
        middle = torch.maximum(torch.minimum(middle, self.sizes[chosen] - room), room)
        lines = (torch.arange(size, device=self.device) + 0.5) / size - 0.5
        y, x = torch.meshgrid(lines, lines, indexing="ij")
        points = torch.stack([x, y, torch.ones_like(x)], -1).reshape(1, -1, 3)
        seen = points @ self._homography(count, field).transpose(1, 2)
        source = seen[..., :2] / seen[..., 2:] + middle[:, None]
        return (2 * source / self.side - 1).reshape(count, size, size, 2)

    def _homography(self, count: int, field: Tensor) -> Tensor:
        """Return matrices from the view (-0.5 to 0.5) to px of the example, round its middle."""
        angle = self._uniform(0, 2 * np.pi, count)
        upright = self._some(0.4, count)
        angle = torch.where(upright, self._normal(0.2, count), angle)
        flip = torch.where(self._some(0.5, count), 1.0, -1.0)
        stretch = torch.exp(self._normal(_STRETCH, count))
        shear = self._normal(_SHEAR, count)
        cos, sin = torch.cos(angle), torch.sin(angle)
        matrix = torch.zeros(count, 3, 3, device=self.device)
        matrix[:, 0, 0], matrix[:, 0, 1] = field * cos * stretch * flip, field * (-sin + shear)
        matrix[:, 1, 0], matrix[:, 1, 1] = field * sin * stretch * flip, field * cos
        matrix[:, 2, :2] = self._normal(_PERSPECTIVE, count, 2)
        matrix[:, 2, 2] = 1
        return matrix

    def _spliced(self, photos: Tensor, masks: Tensor) -> tuple[Tensor, Tensor]:
        """Put a rectangle of one view into another (Yun et al. 2019, arXiv:1905.04899)."""
        count, _, height, width = photos.shape
        low, high = self._uniform(0, 0.7, count, 2), self._uniform(0.15, 0.5, count, 2)
        box = torch.cat([low, low + high], 1)
        y = torch.linspace(0, 1, height, device=self.device)[None, :, None]
        x = torch.linspace(0, 1, width, device=self.device)[None, None, :]
        left, top, right, bottom = (box[:, n, None, None] for n in range(4))
        inside = (x >= left) & (x <= right) & (y >= top) & (y <= bottom)
        inside = (inside & self._some(_SPLICED, count)[:, None, None])[:, None]
        return torch.where(inside, photos.roll(1, 0), photos), torch.where(inside, masks.roll(1, 0), masks)

    def _covered(self, photos: Tensor, masks: Tensor) -> tuple[Tensor, Tensor]:
        """Lay one thing that is no wound on some views."""
        count, _, height, width = photos.shape
        kind = torch.randint(len(self.covers), (count,), generator=self.random, device=self.device)
        angle, reach = self._uniform(0, 2 * np.pi, count), self._uniform(0.12, 0.5, count)
        squeeze = self._uniform(0.7, 1.4, count)
        matrix = torch.zeros(count, 2, 3, device=self.device)
        matrix[:, 0, 0], matrix[:, 0, 1] = torch.cos(angle) / reach, -torch.sin(angle) / reach
        matrix[:, 1, 0], matrix[:, 1, 1] = torch.sin(angle) / reach / squeeze, torch.cos(angle) / reach / squeeze
        place = self._uniform(-1, 1, count, 2)
        matrix[:, :, 2] = -(matrix[:, :, :2] @ place[:, :, None])[:, :, 0]
        grid = functional.affine_grid(matrix, [count, 4, height, width], align_corners=False)
        laid = functional.grid_sample(self.covers[kind].float(), grid, align_corners=False)
        alpha = laid[:, 3:] / 255
        left = ((1 - alpha) * masks).sum((1, 2, 3))
        spares = left >= (1 - _MOST_COVERED) * masks.sum((1, 2, 3))
        alpha = alpha * (self._some(_COVERED, count) & spares)[:, None, None, None]
        light = photos.mean((1, 2, 3), keepdim=True) / 128
        things = (laid[:, :3] * light.clamp(0.5, 1.3)).clamp(0, 255)
        return photos * (1 - alpha) + things * alpha, masks * (1 - alpha)

    def _lit(self, photos: Tensor) -> Tensor:
        """Change exposure, cast, contrast and saturation, and let the light fall unevenly."""
        count, _, height, width = photos.shape
        x = photos.clamp(1e-4, 1) ** torch.exp(self._normal(_GAMMA, count, 1, 1, 1))
        x = x * torch.exp(self._normal(_GAIN, count, 1, 1, 1) + self._normal(_CAST, count, 3, 1, 1))
        mix = torch.eye(3, device=self.device) + self._normal(_MIX, count, 3, 3)
        x = torch.einsum("bij,bjhw->bihw", mix, x)
        mean = x.mean((1, 2, 3), keepdim=True)
        x = mean + (x - mean) * torch.exp(self._normal(_CONTRAST, count, 1, 1, 1))
        grey = x.mean(1, keepdim=True)
        x = grey + (x - grey) * torch.exp(self._normal(_SATURATION, count, 1, 1, 1))
        slope = self._uniform(-0.5, 0.5, count, 2) * self._some(_UNEVEN, count)[:, None]
        across = torch.linspace(-1, 1, width, device=self.device)[None, None, None, :]
        down = torch.linspace(-1, 1, height, device=self.device)[None, None, :, None]
        return x * (1 + slope[:, 0, None, None, None] * across + slope[:, 1, None, None, None] * down)

    def _blurred(self, photos: Tensor) -> Tensor:
        """Blur some of the views, each by another width."""
        blurred = torch.nonzero(self._some(_BLURRED, len(photos)))[:, 0]
        count, (height, width) = len(blurred), photos.shape[2:]
        if not count:
            return photos
        sigma = self._uniform(0.4, 2.5, count)
        steps = torch.arange(_KERNEL, device=self.device) - _KERNEL // 2
        kernel = torch.exp(-0.5 * (steps[None] / sigma[:, None]) ** 2)
        kernel = (kernel / kernel.sum(1, keepdim=True)).repeat_interleave(3, 0)
        flat = photos[blurred].reshape(1, count * 3, height, width)
        flat = functional.conv2d(flat, kernel[:, None, :, None], padding=(_KERNEL // 2, 0), groups=count * 3)
        flat = functional.conv2d(flat, kernel[:, None, None, :], padding=(0, _KERNEL // 2), groups=count * 3)
        return photos.index_copy(0, blurred, flat.reshape(count, 3, height, width))

    def _noisy(self, photos: Tensor) -> Tensor:
        """Add noise to some of the views."""
        count = len(photos)
        sigma = self._uniform(0, 0.05, count, 1, 1, 1) * self._some(_NOISY, count, 1, 1, 1)
        return photos + sigma * torch.randn(photos.shape, generator=self.random, device=self.device)


def _aims(example: Example, random: np.random.Generator) -> NDArray[np.float32]:
    """Choose places to aim at: on the wounds, each as often as the others however small; anywhere if there is none."""
    height, width = example.mask.shape
    wounds = _wounds(example.mask)
    if not wounds:
        return np.asarray(random.uniform((0, 0), (width, height), (_POINTS, 2)), np.float32)
    chosen = [wounds[n] for n in random.integers(len(wounds), size=_POINTS)]
    return np.array([wound[random.integers(len(wound))] for wound in chosen], np.float32)


def _wounds(mask: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return the pixels (x, y) of each connected area; without slips of the hand, unless there is nothing else."""
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    areas = [np.argwhere(labels == label)[:, ::-1] for label in range(1, count)]
    return [area for area in areas if len(area) >= SPECK_PX] or areas


def _cover_bank(covers: Sequence[NDArray[np.uint8]]) -> Tensor:
    """Stack pictures of covers, each in the middle of a square of its longer side, 256 px wide."""
    bank = torch.zeros(len(covers), 4, 256, 256, dtype=torch.uint8)
    for n, cover in enumerate(covers):
        picture = torch.from_numpy(cover.copy()).permute(2, 0, 1)[None].float()
        height, width = cover.shape[:2]
        scale = 254 / max(height, width)
        size = (max(1, round(height * scale)), max(1, round(width * scale)))
        small = functional.interpolate(picture, size, mode="area")[0].round().to(torch.uint8)
        top, left = (256 - size[0]) // 2, (256 - size[1]) // 2
        bank[n, :, top : top + size[0], left : left + size[1]] = small
    return bank
