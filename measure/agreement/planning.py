"""How many photos, raters and tracings a study needs, before it starts: by how closely it will know what it finds.

Closeness is half of a 95 % confidence interval, or the wider side of an uneven one: of the smallest detectable change
as a share of it, of a limit of agreement as a share of its distance from the mean difference, of an intraclass
correlation as it is. The assumptions are those of the analyses: errors spread normally (of logarithms, where they grow
with the size), and photos and raters drawn from those that the result is for.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from scipy.special import chdtri, ndtri, stdtrit

from measure.agreement.errors import AgreementError

MOST_PHOTOS = 500
"""No ward traces more; what needs more is out of reach."""

AFFORDABLE_PHOTOS = 100
"""With so many, more raters are advised; more of both is no advice."""

MOST_RATERS = 30

NORMAL_95 = 1.96

LARGE_CORRELATION = 0.7
"""From here on Bonett adds 5 times the correlation to the photos of two raters."""


@dataclass(frozen=True)
class Design:
    """A study in which each rater traces each photo equally often.

    Attributes
    ----------
    photos, raters, trials : int

    Raises
    ------
    AgreementError
        If there are fewer than 2 photos or none of the others.
    """

    photos: int
    raters: int
    trials: int

    def __post_init__(self) -> None:
        """Refuse what is no study."""
        if self.photos < 2 or self.raters < 1 or self.trials < 1:
            raise AgreementError("A study needs at least 2 photos, a rater and a tracing of each photo.")

    @property
    def tracings(self) -> int:
        """How many outlines will be drawn."""
        return self.photos * self.raters * self.trials


@dataclass(frozen=True)
class Causes:
    """Where the differences between two tracings by different raters come from: shares of their variance.

    Attributes
    ----------
    rater : float
        That one rater draws all wounds larger than another.
    photo : float
        That raters see some wounds differently (the interaction of rater and photo).

    Raises
    ------
    AgreementError
        If a share is below 0, or nothing is left for what changes when the same rater traces the photo again.
    """

    rater: float
    photo: float

    def __post_init__(self) -> None:
        """Refuse what is no share."""
        if min(self.rater, self.photo) < 0 or self.rater + self.photo >= 1:
            raise AgreementError("The shares of raters and of wounds must be 0 or more, and together less than 1.")

    @property
    def again(self) -> float:
        """Share of what changes when the same rater traces the photo again."""
        return 1 - self.rater - self.photo


def change_freedom(design: Design, causes: Causes | None) -> float:
    """Return the degrees of freedom with which a study will know the variance behind the smallest detectable change.

    Without ``causes`` it is that of the same rater twice: photos x raters x (trials - 1). Else that of any two raters,
    the sum of the components of rater, interaction and repetition. With mean squares R, I and E of n photos, r raters
    and t trials it is R / (n t) + I (n - 1) / (n t) + E (t - 1) / t, and Satterthwaite (Biometrics Bull
    1946;2:110-4) tells its degrees of freedom from those of the mean squares: r - 1, (n - 1) (r - 1), n r (t - 1).

    Raises
    ------
    AgreementError
        If the design tells nothing of it.
    """
    n, r, t = design.photos, design.raters, design.trials
    if causes is None:
        if t < 2:
            raise AgreementError(
                "The change of the same rater shows only where photos are traced twice; plan 2 tracings."
            )
        return float(n * r * (t - 1))
    if r < 2:
        raise AgreementError("The change between raters shows only where there are two; plan 2 raters or more.")
    within = causes.again + t * causes.photo
    parts = [
        (causes.rater + within / (n * t), r - 1),
        (within * (n - 1) / (n * t), (n - 1) * (r - 1)),
        (causes.again * (t - 1) / t, n * r * (t - 1)),
    ]
    return sum(part for part, _ in parts) ** 2 / sum(part**2 / freedom for part, freedom in parts if freedom)


def change_closeness(design: Design, causes: Causes | None) -> float:
    """Return how closely a study will know the smallest detectable change, as a share of it: its upper side.

    The change is in proportion to a standard deviation, of which chi squared gives the interval.

    Raises
    ------
    AgreementError
        If the design tells nothing of it.
    """
    freedom = change_freedom(design, causes)
    return math.sqrt(freedom / float(chdtri(freedom, 0.975))) - 1


def photos_for_change(wished: float, raters: int, trials: int, causes: Causes | None) -> int:
    """Return the fewest photos with which the smallest detectable change is known closely enough.

    Raises
    ------
    AgreementError
        If no number of photos will do, with what would.
    """
    found = _fewest(lambda photos: change_closeness(Design(photos, raters, trials), causes) <= wished)
    if found is None:
        more = (
            number
            for number in range(raters + 1, MOST_RATERS + 1)
            if change_closeness(Design(AFFORDABLE_PHOTOS, number, trials), causes) <= wished
        )
        enough = next(more, 0)
        advice = f"plan {enough} raters, or be content" if enough else "be content"
        raise AgreementError(
            f"With {_raters(raters)} not even {MOST_PHOTOS} photos will do; {advice} with knowing it less closely."
        )
    return found


def _raters(number: int) -> str:
    return f"{number} rater" if number == 1 else f"{number} raters"


def limits_closeness(photos: int) -> float:
    """Return how closely a study will know a limit of agreement, as a share of its distance from the mean difference.

    A limit lies 1.96 s from the mean difference and has the standard error sqrt(3 / n) s (Bland and Altman, Lancet
    1986;i:307-10); its interval is Student's, each photo measured once by each method.
    """
    if photos < 2:
        raise AgreementError("Limits of agreement need at least 2 photos.")
    return float(stdtrit(photos - 1, 0.975)) * math.sqrt(3 / photos) / NORMAL_95


def photos_for_limits(wished: float) -> int:
    """Return the fewest photos with which the limits of agreement are known closely enough.

    Raises
    ------
    AgreementError
        If they are out of reach.
    """
    return _reachable(_fewest(lambda photos: limits_closeness(photos) <= wished))


def correlation_closeness(expected: float, photos: int, raters: int) -> float:
    """Return half of the width of the interval of an intraclass correlation of about ``expected``.

    Bonett's approximation (Stat Med 2002;21:1331-5, from memory), solved for the width: of one tracing a rater, one-way
    or two-way without regard to raters who draw all wounds larger. Where these count as errors too, an interval from
    few raters is wider.

    Raises
    ------
    AgreementError
        If there are fewer than 2 raters or 3 photos, or the correlation lies not between 0 and 1.
    """
    _check(expected, raters)
    photos -= _added(expected, raters)
    if photos < 3:
        raise AgreementError("An intraclass correlation needs more photos; plan at least 10.")
    spread = (1 - expected) * (1 + (raters - 1) * expected) / math.sqrt(raters * (raters - 1) * (photos - 1))
    return NORMAL_95 * math.sqrt(2) * spread


def _check(expected: float, raters: int) -> None:
    if not 0 < expected < 1:
        raise AgreementError(
            f"An intraclass correlation of {expected:g} can't be planned for; expect one between 0 and 1."
        )
    if raters < 2:
        raise AgreementError("An intraclass correlation needs at least 2 raters.")


def _added(expected: float, raters: int) -> int:
    """Return the photos that Bonett's approximation would lack."""
    return round(5 * expected) if raters == 2 and expected >= LARGE_CORRELATION else 0


def photos_for_correlation(expected: float, wished: float, raters: int) -> int:
    """Return the fewest photos with which an intraclass correlation is known to within ``wished`` either way.

    Raises
    ------
    AgreementError
        As `correlation_closeness`, or if it is out of reach.
    """
    _check(expected, raters)
    least = 3 + _added(expected, raters)
    return _reachable(_fewest(lambda photos: correlation_closeness(expected, photos, raters) <= wished, least=least))


def photos_to_show(expected: float, least: float, raters: int, power: float = 0.8) -> int:
    """Return the photos with which a correlation of ``expected`` shows itself above ``least`` (one-sided, 5 %).

    The ratio of the mean squares between and within photos is (1 + r ICC / (1 - ICC)) times a variable of F with n - 1
    and n (r - 1) degrees of freedom, whose logarithm has a variance of about 2 / (n - 1) + 2 / (n (r - 1)), near
    2 r / ((n - 1) (r - 1)). So n = 1 + 2 r (z_alpha + z_beta)**2 / ((r - 1) ln(C)**2), C the quotient of the two
    factors: the approximation of Walter, Eliasziw and Donner (Stat Med 1998;17:101-10, from memory).

    Raises
    ------
    AgreementError
        If the correlation expected is not the greater one, or it is out of reach.
    """
    _check(expected, raters)
    _check(least, raters)
    if expected <= least:
        raise AgreementError(f"A correlation of {expected:g} can't show itself above {least:g}; expect a greater one.")
    factors = [1 + raters * each / (1 - each) for each in (least, expected)]
    sure = float(ndtri(0.95) + ndtri(power))
    photos = 1 + 2 * raters * sure**2 / ((raters - 1) * math.log(factors[0] / factors[1]) ** 2)
    return _reachable(math.ceil(photos) if photos <= MOST_PHOTOS else None)


def _fewest(will_do: Callable[[int], bool], least: int = 2) -> int | None:
    """Return the fewest photos that will do; None where none will."""
    return next((photos for photos in range(least, MOST_PHOTOS + 1) if will_do(photos)), None)


def _reachable(photos: int | None) -> int:
    if photos is None:
        raise AgreementError(f"Not even {MOST_PHOTOS} photos will do; be content with knowing it less closely.")
    return photos
