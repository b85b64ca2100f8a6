"""Findings of all sorts, drawn by hypothesis."""

import string
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from measure.findings import closures, drains, dressing, exudate, foot, irrigation, signs
from measure.findings.closures import Closures
from measure.findings.culture import Culture
from measure.findings.drains import Drain
from measure.findings.dressing import Dressing
from measure.findings.edges import EDGES
from measure.findings.exudate import Exudate
from measure.findings.findings import Findings
from measure.findings.foot import Foot
from measure.findings.form import MAX_TEXT
from measure.findings.irrigation import Irrigation
from measure.findings.ruler import MAX_RULER_CM
from measure.findings.sizes import MAX_CM, Tunnel, Undermining
from measure.findings.skin import HEALTHY, SKIN

TEXT = st.text(string.ascii_letters + " äé;'\"<>|", max_size=MAX_TEXT)
ANSWERS = st.none() | st.booleans()
HOURS = st.integers(1, 12)
CM = st.floats(0.1, MAX_CM)
TIMES = st.datetimes(
    datetime(2000, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
    datetime(2100, 1, 1),  # noqa: DTZ001
    timezones=st.sampled_from([UTC, ZoneInfo("Europe/Berlin"), timezone(timedelta(hours=-3, minutes=-30))]),
    allow_imaginary=False,
)


def of(names):
    return st.sampled_from(sorted(names))


def maybe(names):
    return st.just("") | of(names)


def some(names):
    return st.lists(of(names), unique=True).map(tuple)


@st.composite
def exudates(draw):
    amount = draw(of(exudate.AMOUNTS))
    return Exudate(amount, "" if amount == "none" else draw(maybe(exudate.KINDS)))


@st.composite
def counted(draw):
    present = draw(st.integers(0, closures.MAX_CLOSURES))
    removed = draw(st.integers(0, present))
    every_other = draw(ANSWERS) if removed <= (present + 1) // 2 else draw(st.sampled_from([None, False]))
    return Closures(draw(of(closures.KINDS)), present, removed, every_other, draw(maybe(closures.LINES)), draw(ANSWERS))


@st.composite
def drained(draw, label):
    kind = draw(of(drains.KINDS))
    emptied_at = draw(st.none() | TIMES)
    ml = None if emptied_at is None else draw(st.floats(0, drains.MAX_ML))
    gathered = None if emptied_at is None else draw(st.none() | st.timedeltas(timedelta(minutes=1), timedelta(days=3)))
    since = None if gathered is None else emptied_at.astimezone(UTC) - gathered
    sucks = draw(ANSWERS) if kind in drains.SUCKING else None
    return Drain(label, kind, ml, since, emptied_at, sucks, draw(maybe(drains.APPEARANCES)), draw(maybe(drains.SITES)))


@st.composite
def all_drains(draw):
    return tuple(draw(drained(label)) for label in draw(st.lists(of("1234"), unique=True, max_size=3)))


FOUND = st.builds(
    Findings,
    depth_cm=st.none() | st.floats(0, MAX_CM),
    undermining=st.none() | st.lists(st.builds(Undermining, HOURS, HOURS, CM), max_size=3).map(tuple),
    tunnels=st.none() | st.lists(st.builds(Tunnel, HOURS, CM), max_size=3).map(tuple),
    exudate=st.none() | exudates(),
    odour=st.none() | of(exudate.ODOURS),
    edges=st.none() | some(EDGES),
    skin=st.none() | st.just((HEALTHY,)) | some(set(SKIN) - {HEALTHY}),
    pain=st.none() | st.integers(0, 10),
    signs=st.dictionaries(of(signs.SIGNS), st.booleans()),
    closures=st.none() | counted(),
    drains=st.none() | all_drains(),
    culture=st.none() | st.builds(Culture, ANSWERS, ANSWERS, ANSWERS, ANSWERS, ANSWERS),
    irrigation=st.none()
    | st.builds(Irrigation, of(irrigation.SOLUTIONS), st.none() | st.floats(1, 9000), maybe(irrigation.DEVICES)),
    dressing=st.none()
    | st.builds(
        Dressing, TEXT, TEXT, maybe(dressing.TECHNIQUES), st.none() | st.dates(date(2000, 1, 1), date(2100, 1, 1))
    ),
    foot=st.none()
    | st.builds(
        Foot,
        maybe(foot.PULSES),
        maybe(foot.SENSATION),
        maybe(foot.TEMPERATURES),
        maybe(foot.COLOURS),
        some(foot.TEACHING),
    ),
    ruler_length_cm=st.none() | st.floats(0.1, MAX_RULER_CM),
    ruler_width_cm=st.none() | st.floats(0.1, MAX_RULER_CM),
    other=st.dictionaries(st.sampled_from(["weather", "photo_angle"]), st.integers() | st.lists(TEXT, max_size=2)),
)
