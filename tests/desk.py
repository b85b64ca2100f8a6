"""Someone at the outline editor: hands on its page, and eyes that see photo pixels."""

import json
import re

from playwright.sync_api import TimeoutError  # noqa: A004 - Playwright's own

RINGS = """stage => {
  const photo = stage.getRootNode().querySelector(".photo"), box = photo.getBoundingClientRect();
  const here = stage.getBoundingClientRect(), scale = box.width / parseFloat(photo.style.width);
  const at = ([x, y]) => [(x + here.left - box.left) / scale - 0.5, (y + here.top - box.top) / scale - 0.5];
  return [...stage.querySelectorAll("path.edge")].map(
    path => path.getAttribute("d").slice(1, -1).split("L").map(pair => at(pair.split(" ").map(Number))));
}"""
POINTS = """stage => [...stage.querySelectorAll("circle.point")].map(point => {
  const box = point.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
})"""
PLACE = """stage => {
  const box = stage.getRootNode().querySelector(".photo").getBoundingClientRect();
  const scale = box.width / parseFloat(stage.getRootNode().querySelector(".photo").style.width);
  return [box.left + 0.5 * scale, box.top + 0.5 * scale, scale];
}"""
SETTLED = """async stage => {
  const frame = () => new Promise(requestAnimationFrame), numbers = stage.getRootNode().querySelector(".numbers");
  await frame();
  await frame();
  const end = performance.now() + 90000;
  while (numbers.getAttribute("aria-busy") !== "false" && performance.now() < end) await frame();
  return numbers.getAttribute("aria-busy") === "false";
}"""
ANSWERED = """async was => {
  const root = document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot;
  const numbers = root.querySelector(".numbers"), card = () => document.querySelector("[data-testid=stMetricValue]");
  const before = [numbers.textContent, card().textContent];
  const once = {once: true, capture: true};
  const lifted = new Promise(done => addEventListener("pointerup", () => done(performance.now()), once));
  globalThis.answered = new Promise(done => lifted.then(start => {
    const look = () => {
      const now = [numbers.textContent, card()?.textContent];
      if (now[0] !== before[0] && now[1] !== before[1]) done(performance.now() - start);
      else requestAnimationFrame(look);
    };
    look();
  }));
}"""


class Desk:
    """A page with the editor, and hands to use it."""

    def __init__(self, page, photo):
        """Sit down at a page that isn't open yet."""
        self.page = page
        self.photo = photo
        self.stage = page.locator(".overlay")
        self.touch = page.context.new_cdp_session(page)

    def open(self, address):
        """Open the page and choose the photo."""
        self.address = address
        self.page.goto(address)
        self.page.get_by_test_id("stFileUploader").wait_for()
        self.upload()
        self.first_scale = self.scale
        return self

    @property
    def scale(self):
        """Pixels of the screen for one of the photo."""
        return self.stage.evaluate(PLACE)[2]

    def upload(self):
        """Choose the photo, and wait until the editor shows it."""
        self.page.set_input_files("input[type=file]", str(self.photo))
        self.stage.wait_for()
        self.page.wait_for_function(
            "stage => stage.getRootNode().querySelector('.photo').naturalWidth", arg=self.stage.element_handle()
        )
        self.look()

    def look(self):
        """Scroll so that the stage and the toolbar are on the screen."""
        self.page.locator(".hint").evaluate("hint => hint.scrollIntoView({block: 'start'})")
        self.page.get_by_test_id("stMain").evaluate("main => main.scrollBy(0, -70)")
        self.settle()

    def settle(self):
        """Wait until everything is drawn, sent and answered."""
        assert self.stage.evaluate(SETTLED)

    @property
    def rings(self):
        """All lines drawn, in photo px."""
        self.settle()
        return self.stage.evaluate(RINGS)

    @property
    def numbers(self):
        """The lines of numbers under the stage."""
        self.settle()
        return self.page.locator(".numbers").inner_text()

    @property
    def area(self):
        """Area of the first wound in cm2."""
        return float(re.search(r"([\d.]+) ±", self.numbers)[1])

    @property
    def status(self):
        """What is said of the number of changes."""
        self.settle()
        return self.page.locator(".status").inner_text()

    @property
    def trouble(self):
        """What is said to be wrong."""
        return self.page.locator(".trouble").inner_text()

    @property
    def notice(self):
        """What is shown of what was done."""
        return self.page.locator(".notice").inner_text()

    def at(self, point):
        """Give the place on the screen of a point of the photo."""
        left, top, scale = self.stage.evaluate(PLACE)
        return left + point[0] * scale, top + point[1] * scale

    @property
    def beside(self):
        """A place on the screen beside the stage where nothing can be pressed."""
        box = self.page.locator(".status").bounding_box()
        return box["x"] + box["width"] - 2, box["y"] + box["height"] / 2

    @property
    def centre(self):
        """Middle of the stage on the screen."""
        box = self.stage.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    @property
    def points(self):
        """Give the middles of the points that are shown, on the screen."""
        self.settle()
        return [tuple(place) for place in self.stage.evaluate(POINTS)]

    def fresh(self):
        """Begin again with the proposal, and with the editor as it first opens; on a new page if this one is stuck."""
        try:
            return self._begun_again()
        except TimeoutError:  # on a machine that is very busy; what a test does itself is never tried twice
            self.__init__(self.page.context.new_page(), self.photo)
            return self.open(self.address)._begun_again()

    def _begun_again(self):
        self.look()
        if self.status != "As proposed":
            if self.page.get_by_role("button", name="Back to the proposal").is_hidden():
                self.press("More")
            self.press("Back to the proposal")
        if self.scale != self.first_scale:
            self.choose_again()
        for choice in ("Trace", "This wound", "Add area", "Medium", "Drag"):
            self.press(choice)
        self.look()
        return self

    def undone(self):
        """Take back all that was done, words too."""
        undo = self.page.get_by_role("button", name="Undo", exact=True)
        while undo.is_enabled():
            self.press("Undo")

    def choose_again(self):
        """Take the photo away and choose it again, for an editor that is new."""
        self.page.get_by_label(f"Remove {self.photo.name}").last.click()  # while the page is redrawn there may be two
        self.stage.wait_for(state="detached")
        self.page.get_by_text("Clean the wound first").wait_for()
        self.page.set_input_files("input[type=file]", [])  # else choosing the same file again is no change
        self.upload()

    def press(self, name):
        """Press a button of the editor."""
        self.page.get_by_role("button", name=name, exact=True).click()
        self.settle()

    def drag(self, path):
        """Move the mouse along a path with its button down."""
        self.page.mouse.move(*path[0])
        self.page.mouse.down()
        for place in path[1:]:
            self.page.mouse.move(*place)
        self.page.mouse.up()
        self.settle()

    def fingers(self, kind, *places):
        """Send one touch event."""
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        self.touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def finger(self, path):
        """Move a finger along a path."""
        self.fingers("touchStart", path[0])
        for place in path[1:]:
            self.fingers("touchMove", place)
        self.fingers("touchEnd")
        self.settle()

    def keys(self, *names):
        """Press keys with the stage in focus."""
        self.stage.focus()
        for name in names:
            self.page.keyboard.press(name)
        self.page.wait_for_timeout(400)  # a burst of keys is sent when it ends
        self.settle()

    def saved(self):
        """Save the numbers and return the document."""
        self.page.get_by_test_id("stDownloadButton").first.wait_for()
        with self.page.expect_download() as download:
            self.press("Save numbers (JSON)")
        with open(download.value.path(), encoding="utf-8") as file:  # noqa: PTH123 - playwright returns a path of its own
            return json.load(file)
