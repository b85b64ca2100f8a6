"""What is said of two visits that were laid over one another."""

from measure.compare.advance import Advance, AtClock
from measure.compare.fitting import Fit

LAID_ANEW_DEG = 30.0
"""Turn beyond which the sticker was rather laid along another side of the wound than a little differently."""


def advance_words(found: Advance, days: float) -> tuple[str, ...]:
    """Say how far the edge moved, where most and least, and along how much of it.

    Parameters
    ----------
    found : Advance
    days : float
        From the earlier visit to the later one.
    """
    return (*_mean(found, days), *_extremes(found), _shares(found), *_pieces(found), *_islands(found))


def _mean(found: Advance, days: float) -> tuple[str, ...]:
    interval = f"± {found.mean_expanded_mm:.1f} mm (k = 2)"
    if abs(found.mean_mm) <= found.mean_expanded_mm:
        return (f"On average the edge did not move by more than its uncertainty: {found.mean_mm:+.1f} {interval}.",)
    way = "advanced into the wound" if found.mean_mm > 0 else "moved outward, the wound grew,"
    weekly = f", {abs(found.mean_mm) / days * 7:.1f} mm a week" if days >= 7 else ""
    return (f"On average the edge {way} by {abs(found.mean_mm):.1f} {interval}{weekly}.",)


def _extremes(found: Advance) -> tuple[str, ...]:
    hours = found.by_clock
    most, least = max(hours, key=lambda at: at.advance_mm), min(hours, key=lambda at: at.advance_mm)
    if most.advance_mm < 0:
        return (f"It moved outward most at {_at(least)}, least at {_at(most)}.",)
    return (f"Most at {_at(most)}, least at {_at(least)}.",)


def _at(at: AtClock) -> str:
    return f"{at.hour} o'clock ({at_clock(at)})"


def at_clock(at: AtClock) -> str:
    """Say how far the edge moved at one position, and if that is more than its uncertainty."""
    within = "" if at.beyond else ", within the uncertainty"
    return f"{at.advance_mm:+.1f} ± {at.expanded_mm:.1f} mm{within}"


def _shares(found: Advance) -> str:
    advanced, receded = found.share_advanced, found.share_receded
    shares = {
        "advanced": advanced,
        "moved outward": receded,
        "did not move": max(0.0, 1 - advanced - receded),
    }
    told = [f"{100 * share:.0f} % {moved}" for moved, share in shares.items() if round(100 * share)]
    return f"Of the edge, {', '.join(told)} by more than its uncertainty."


def _pieces(found: Advance) -> tuple[str, ...]:
    if found.pieces < 2:
        return ()
    return (f"The wound is now in {found.pieces} pieces; the nearest one counts at each point of the edge.",)


def _islands(found: Advance) -> tuple[str, ...]:
    if not found.islands_mm.size:
        return ()
    return (f"The edges of healed islands inside moved by {found.islands_mm.mean():+.1f} mm on average.",)


def fit_words(fit: Fit) -> tuple[str, ...]:
    """Say how the later photo was laid over the earlier one, by how much it was turned, and what is doubtful."""
    x, y = fit.shift_mm
    aside, down = "right" if x >= 0 else "left", "down" if y >= 0 else "up"
    moved = (
        f"The later photo is turned by {fit.turn_deg:+.1f}° ± {2 * fit.turn_sigma_deg:.1f}° (clockwise is +) from "
        f"where both stickers lie alike; the middle of its wound lies {abs(x):.1f} mm to the {aside} and "
        f"{abs(y):.1f} mm {down} (± {2 * fit.shift_sigma_mm:.1f} mm) from the earlier one's."
    )
    return (_reason(fit), moved, *_doubts(fit))


def _reason(fit: Fit) -> str:
    if fit.method == "skin":
        return (
            f"Laid over one another by the skin round the wound: {fit.agreeing} of {fit.patches} places were found "
            "again where they belong."
        )
    if fit.method == "hand":
        return "Turned by hand; then shifted so that the edge advanced as evenly as possible all round."
    return (
        "Too little of the skin was recognised in both photos, so the outlines were laid over one another as evenly as "
        "possible: the average holds, but more advance on one side can't be told from a shift."
    )


def _doubts(fit: Fit) -> tuple[str, ...]:
    if fit.method == "hand":
        return ()
    doubts = []
    if abs(fit.turn_deg) > LAID_ANEW_DEG:
        doubts.append("The sticker seems to have been laid along another side of the wound.")
    if fit.other_turn_deg is not None:
        doubts.append(
            f"Turned by {fit.other_turn_deg:+.0f}° the outlines fit about as well: compare marks in the skin, and turn "
            "the later photo by hand where they don't meet."
        )
    return tuple(doubts)
