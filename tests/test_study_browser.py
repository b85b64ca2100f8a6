"""A whole study in a real browser: three raters trace twelve photos twice, and the record then tells what they drew."""

import numpy as np
import pytest
from desk import PLACE, Desk
from scenes_studied import fill, ring_px
from serving import CHROMIUM, serving

from measure.record.store import open_record
from measure.study.turns import next_turn
from measure.study.values import study_observations

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

PHOTOS, TRIALS = 12, 2

OUTSIDE_MM = {"AB": 0.0, "CD": 1.0, "EF": -0.5}
"""How far outside the true edge each rater draws: what the study has to find."""

SCREENS = {
    "AB": {"viewport": {"width": 820, "height": 1100}},
    "CD": {"viewport": {"width": 1280, "height": 1000}},
    "EF": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True},
}
"""A tablet, a desk, and a phone under a finger."""

SHOWN = """([photo, of]) => {
  const room = document.querySelector("[data-testid=stBidiComponentIsolated]");
  const picture = room?.shadowRoot?.querySelector(".photo");
  const said = document.querySelector("[data-testid=stProgress]")?.textContent ?? "";
  return said.includes(of) && picture?.naturalWidth > 0 && picture.src.includes("signature")
    && picture.src !== photo && !document.querySelector("[data-testid=stMain] [data-stale=true]") ? picture.src : null;
}"""
"""Whether another photo is there, with the words that belong to it."""


@pytest.fixture(scope="module")
def ward(tmp_path_factory):
    """Give the folder of a record with measured photos, and the scenes that they show."""
    folder = tmp_path_factory.mktemp("study") / "record"
    with open_record(folder) as record:
        return folder, fill(record, PHOTOS)


@pytest.fixture(scope="module")
def address(ward):
    """Start the pages with the record as a person does."""
    folder, _ = ward
    with serving("measure", "app", "--port", "{port}", "--data", str(folder)) as url:
        yield f"{url}/consistency"


class Rater:
    """Somebody at a device of one's own, who traces what is shown."""

    def __init__(self, browser, address, by):
        """Sit down and say who it is."""
        self.by, self.photo, self.scale = by, "", 0.0
        self.context = browser.new_context(**SCREENS[by])
        self.page = self.context.new_page()
        self.page.goto(address)
        say_who(self.page, by)

    def begin(self, label):
        """Tap the button that leads to the photos."""
        self.page.get_by_role("button", name=label).click()

    def waits_for(self, place, trial):
        """Wait until the photo of this place is there."""
        words = [self.photo, f"Photo {place} of {PHOTOS} · trial {trial}"]
        self.photo = self.page.wait_for_function(SHOWN, arg=words).json_value()

    def draw(self, seen):
        """Draw round the wound, by mouse or by finger, and ask to save."""
        desk = Desk(self.page, None)
        desk.look()
        left, top, self.scale = desk.stage.evaluate(PLACE)
        ring = ring_px(seen, OUTSIDE_MM[self.by])
        path = [(left + x * self.scale, top + y * self.scale) for x, y in (*ring, ring[0])]
        (desk.finger if self.by == "EF" else desk.drag)(path)
        assert not self.page.locator(".numbers").text_content()  # nobody draws towards a number
        self.page.get_by_role("button", name="Save and next").click()

    def leave(self):
        """Close the browser, as somebody who is called away."""
        self.context.close()


def say_who(page, by):
    page.get_by_label("Your initials or staff code, no name").fill(by)
    page.get_by_role("button", name="Use these initials").click()
    page.get_by_text("Tracing as").wait_for()


def begin_study(browser, address):
    """Begin the study as whoever runs it does."""
    context = browser.new_context(viewport={"width": 820, "height": 1100})
    page = context.new_page()
    page.goto(address)
    say_who(page, "QA")
    page.get_by_text("No study asks you to trace now").wait_for()
    page.get_by_role("radio", name="New study").click()
    page.get_by_text("12 photos of 12 wounds can be used").wait_for()
    page.get_by_text("Evenly by size").click()
    page.get_by_text("middle third").wait_for()
    for label, said in (("Name of the study", "Spring"), ("Who traces?", "AB, CD; EF")):
        page.get_by_label(label).fill(said)
        page.get_by_label(label).press("Enter")
    page.get_by_role("button", name="Begin the study").click()
    page.get_by_text("AB, CD, EF find it under Trace").wait_for()
    context.close()


def test_three_raters_trace_twelve_photos_twice(browser, address, ward):
    folder, scenes = ward
    begin_study(browser, address)
    raters = [Rater(browser, address, by) for by in OUTSIDE_MM]
    for rater in raters:
        rater.begin("Begin to trace")
    with open_record(folder, create=False) as record:
        for trial in range(1, TRIALS + 1):
            for place in range(1, PHOTOS + 1):
                if (trial, place) == (1, 6):
                    raters[0] = comes_back(raters[0], browser, address)
                one_photo_each(record, raters, (trial, place), scenes)
            if trial < TRIALS:
                for rater in raters:
                    rater.page.get_by_text("Trial 1 is finished").wait_for()
                    rater.begin("Begin trial 2")
        for rater in raters:
            rater.page.get_by_text("Finished: you have traced all photos").wait_for()
            rater.leave()
        _check(record.studies.all(), scenes, {rater.by: rater.scale for rater in raters})


def one_photo_each(record, raters, when, scenes):
    """Let all raters trace the photo whose turn it is; while one's is saved, the next one draws."""
    trial, place = when
    (study,) = record.studies.heads()
    for rater in raters:
        turn = next_turn(study, rater.by)
        assert (turn.trial, turn.place) == when
        rater.waits_for(place, trial)
        rater.draw(scenes[turn.photo.sha256])
    for rater in raters:  # what the record says next rests on what is saved
        after = f"Photo {place + 1} of" if place < PHOTOS else f"You have traced {trial * PHOTOS} of"
        rater.page.get_by_text(after).wait_for()


def comes_back(rater, browser, address):
    """Leave in the middle of a trial, and go on from another browser."""
    rater.leave()
    again = Rater(browser, address, rater.by)
    again.page.get_by_text("You have traced 5 of 24").wait_for()
    again.begin("Go on with photo 6")
    again.page.get_by_role("button", name="More", exact=True).click()
    again.page.get_by_text("Keys", exact=True).wait_for()
    assert again.page.get_by_role("button", name="Back to the proposal").is_hidden()
    return again


def _check(studies, scenes, scales):
    """Compare what the record tells with the scenes: each rater's area is that of the line which that rater drew."""
    (study,) = studies
    assert len(study.done) == len(study.tracings) == study.plan.tracings == PHOTOS * len(OUTSIDE_MM) * TRIALS
    assert {photo.stratum for photo in study.plan.photos} == {"smallest third", "middle third", "largest third"}
    assert all(tracing.seconds > 0 and tracing.by == tracing.rater for tracing in study.tracings)
    found = study_observations(study, "area_cm2")
    assert found.missing == 0
    for subject, rater, area in zip(found.subject, found.rater, found.value, strict=True):
        seen = scenes[study.plan.photo(int(subject.split()[1])).sha256]
        drawn = seen.wound_mm().buffer(OUTSIDE_MM[rater])
        assert 100 * area == pytest.approx(drawn.area, abs=_tolerance_mm2(drawn, seen, scales[rater])), (subject, rater)
    means = found.crossed().mean(axis=0)
    by = dict(zip(found.raters, means, strict=True))
    assert by["EF"] < by["AB"] < by["CD"]
    orders = {(one.rater, one.trial): [] for one in study.tracings}
    for one in study.tracings:
        orders[one.rater, one.trial].append(one.photo)
    assert len({tuple(order) for order in orders.values()}) == len(OUTSIDE_MM) * TRIALS


def _tolerance_mm2(drawn, seen, scale):
    """Return how far an area may be off: the line by 0.25 px of the screen on the whole, the area by 0.4 and 0.3 %.

    A pointer stands on whole pixels of the screen: 0.29 px each (a rectangle's standard deviation), 0.05 px for the
    mean of forty points, of which 0.25 px is five. The forty points of the path cut the wound's curves short by 0.4 %
    (an inscribed polygon of n sides: 2 pi^2 / 3 n^2); the rest is left to the scale, which the sticker gives to 0.1 %.
    """
    mm_per_px = seen.camera.distance_mm / seen.camera.focal
    return 0.25 * mm_per_px / scale * drawn.length + (0.003 + 2 * np.pi**2 / 3 / 40**2) * drawn.area
