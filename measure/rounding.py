"""Numbers as documents hold them."""

import math


def rounded(value: float) -> float | None:
    """Keep six significant digits, more than any photo carries; None for what isn't known."""
    return float(f"{value:.6g}") if math.isfinite(value) else None
