"""A picture that lies on the plane: how its pixels relate to millimetres, and how it is looked up."""

from dataclasses import dataclass
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.float32]

Value = TypeVar("Value", bound=np.generic)


@dataclass(frozen=True)
class Raster:
    """Pixel (0, 0) has its centre at (x_mm, y_mm); neighbours are 1 / px_per_mm apart."""

    x_mm: float
    y_mm: float
    px_per_mm: float
    width: int
    height: int

    @classmethod
    def over(cls, bounds: tuple[float, float, float, float], px_per_mm: float) -> "Raster":
        """Return the raster that covers (left, top, right, bottom) in mm."""
        left, top, right, bottom = bounds
        return cls(
            left,
            top,
            px_per_mm,
            int(np.ceil((right - left) * px_per_mm)) + 1,
            int(np.ceil((bottom - top) * px_per_mm)) + 1,
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.height, self.width

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom pixel centre in mm."""
        return (
            self.x_mm,
            self.y_mm,
            self.x_mm + (self.width - 1) / self.px_per_mm,
            self.y_mm + (self.height - 1) / self.px_per_mm,
        )

    def axes(self) -> tuple[Picture, Picture]:
        """Return x of each column, shape (1, W), and y of each row, shape (H, 1), in mm."""
        x = self.x_mm + np.arange(self.width, dtype=np.float32) / self.px_per_mm
        y = self.y_mm + np.arange(self.height, dtype=np.float32) / self.px_per_mm
        return x[None, :], y[:, None]

    def to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the raster's pixels, shape (N, 2), of points in mm."""
        return np.asarray((np.asarray(points_mm) - np.array([self.x_mm, self.y_mm])) * self.px_per_mm)

    def look_up(
        self,
        picture: NDArray[Value],
        x_mm: Picture,
        y_mm: Picture,
        border: int = cv2.BORDER_REPLICATE,
        between: int = cv2.INTER_LINEAR,
    ) -> NDArray[Value]:
        """Return the picture's values at points in mm, bilinearly unless told otherwise; a constant border is 0."""
        scale = np.float32(self.px_per_mm)
        columns = (x_mm - np.float32(self.x_mm)) * scale
        rows = (y_mm - np.float32(self.y_mm)) * scale
        numbers: NDArray[Any] = picture
        return np.asarray(cv2.remap(numbers, columns, rows, between, borderMode=border), picture.dtype)


def softened(picture: Picture, raster: Raster, px_per_mm: float) -> Picture:
    """Return the picture without detail too fine for a photo of ``px_per_mm``, so that it doesn't flicker there."""
    ratio = raster.px_per_mm / px_per_mm
    return picture if ratio < 1.2 else np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.42 * ratio), np.float32)
