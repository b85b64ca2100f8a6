"""The light: its colour, its strength and how unevenly it falls."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .camera import View
from .raster import Picture

_SRGB_OF_XYZ = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


@dataclass(frozen=True)
class Light:
    """What falls on the plane.

    Attributes
    ----------
    gains : tuple of float
        Linear red, green and blue multipliers of the cast; see `cast`.
    exposure_ev : float
        Exposure; at 0 white paper of reflectance 0.86 in full light is just short of white.
    from_deg : float
        Direction on the plane from which the light comes; 0 is +x, 90 is +y.
    gradient : float
        Relative change of the light over 100 mm towards ``from_deg``.
    vignetting : float
        Relative loss of light in the corners of the photo.
    shadow : float
        Darkness (0 to 1) of a shadow over the half plane towards ``shadow_towards_deg``.
    shadow_through_mm : tuple of float, optional
        A point of its edge; without it the point aimed at.
    shadow_softness_mm : float
        Width of its edge.
    """

    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure_ev: float = 0.0
    from_deg: float = 225.0
    gradient: float = 0.12
    vignetting: float = 0.2
    shadow: float = 0.0
    shadow_towards_deg: float = 0.0
    shadow_through_mm: tuple[float, float] | None = None
    shadow_softness_mm: float = 8.0

    @property
    def direction(self) -> tuple[float, float]:
        """Unit vector on the plane towards the light."""
        angle = np.radians(self.from_deg)
        return float(np.cos(angle)), float(np.sin(angle))

    @property
    def strength(self) -> NDArray[np.float32]:
        """Linear red, green and blue that white in full light gives, shape (3,)."""
        return np.asarray(np.array(self.gains) * 2.0**self.exposure_ev, np.float32)

    def fall(self, view: View, columns: NDArray[np.float64], rows: NDArray[np.float64]) -> Picture:
        """Return the relative light on the plane seen by each pixel of a raster, shape (H, W)."""
        x, y = view.millimetres(columns, rows)
        dx, dy = x - np.float32(view.aim_mm[0]), y - np.float32(view.aim_mm[1])
        across = dx * self.direction[0] + dy * self.direction[1]
        light = np.exp(np.clip(self.gradient * across / 100.0, -1.2, 0.8))
        if view.limb is not None:
            light = light * view.limb.shade(x, y, self.direction)
        return (light * self._shaded(x, y, view) * self._vignette(view, columns, rows)).astype(np.float32)

    def _shaded(self, x: Picture, y: Picture, view: View) -> Picture:
        edge = self.shadow_through_mm or view.aim_mm
        angle = np.radians(self.shadow_towards_deg)
        behind = (x - edge[0]) * np.cos(angle) + (y - edge[1]) * np.sin(angle)
        behind = behind + 2.0 * np.sin((y * np.cos(angle) - x * np.sin(angle)) / 23.0)
        return np.asarray(1 - self.shadow * 0.5 * (1 + np.tanh(2 * behind / self.shadow_softness_mm)))

    def _vignette(self, view: View, columns: NDArray[np.float64], rows: NDArray[np.float64]) -> NDArray[np.float64]:
        camera = view.camera
        x, y = columns[None, :] - (camera.width - 1) / 2, rows[:, None] - (camera.height - 1) / 2
        return np.asarray(1 - self.vignetting * (x**2 + y**2) / ((camera.width**2 + camera.height**2) / 4), np.float64)


def cast(kelvin: float, strength: float = 1.0) -> tuple[float, float, float]:
    """Return the linear RGB gains of a black body's light seen by a camera balanced for daylight (6500 K).

    The greatest gain is 1. ``strength`` below 1 stands for a camera that balances part of it away. The colour of the
    black body follows Kim et al., US patent 7024034 (2006): chromaticity as cubics of 1000 / K, from 1667 to 25000 K.
    """
    gains = (_linear_rgb(kelvin) / _linear_rgb(6500.0)) ** strength
    red, green, blue = gains / gains.max()
    return float(red), float(green), float(blue)


def _linear_rgb(kelvin: float) -> NDArray[np.float64]:
    t = 1000.0 / kelvin
    if kelvin < 4000:
        x = np.polyval([-0.2661239, -0.2343589, 0.8776956, 0.179910], t)
    else:
        x = np.polyval([-3.0258469, 2.1070379, 0.2226347, 0.240390], t)
    y = np.polyval(_locus(kelvin), x)
    return np.asarray(np.maximum(_SRGB_OF_XYZ @ np.array([x / y, 1.0, (1 - x - y) / y]), 0.02))


def _locus(kelvin: float) -> tuple[float, ...]:
    if kelvin < 2222:
        return (-1.1063814, -1.34811020, 2.18555832, -0.20219683)
    if kelvin < 4000:
        return (-0.9549476, -1.37418593, 2.09137015, -0.16748867)
    return (3.0817580, -5.87338670, 3.75112997, -0.37001483)
