"""Two people who go the same ways, one by keyboard alone, one in a browser without script. A journey is told once.

What either does is named by what stands on the page: `press` a link, button or fold, `fill` a box, `choose` from a
list, `tick` a box, `hand_in` a file. Who walks by keys never points: each thing is come to by Tab, and must then show
that it has the focus, with nothing over it.
"""

import re
from contextlib import nullcontext

MOST_TABS = 400  # until a thing counts as not to be reached

# What has the focus: its name, as a screen reader would tell it, what it is, and whether it can be seen to have it
FOCUSED = """() => {
  const it = document.activeElement;
  if (!it || it === document.body) return null;
  const text = (node) => (node ? node.textContent.replace(/\\s+/g, ' ').trim() : '');
  const said = it.getAttribute('aria-labelledby');
  const named = said ? said.split(' ').map((id) => text(document.getElementById(id))).join(' ') : '';
  const labels = it.labels && it.labels.length ? [...it.labels].map(text).join(' ') : '';
  const name = it.getAttribute('aria-label') || named || labels || text(it) || it.value || it.title || '';
  const style = getComputedStyle(it), box = it.getBoundingClientRect();
  const ringed = (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2) || style.boxShadow !== 'none';
  const x = Math.min(Math.max(box.left + Math.min(box.width / 2, 20), 0), innerWidth - 1);
  const y = Math.min(Math.max(box.top + Math.min(box.height / 2, 20), 0), innerHeight - 1);
  const over = document.elementFromPoint(x, y);
  const label = it.closest('label') || (it.labels && it.labels[0]);
  const bare = box.width < 3 || (over && (it.contains(over) || over.contains(it) || (label && label.contains(over))));
  const htmx = (node) => [...node.attributes].some((each) => each.name.startsWith('hx-'));
  const form = it.type === 'submit' ? it.form : null;
  const goes = it.matches('a[href]:not([download])') ? !htmx(it) : Boolean(form) && !htmx(form) && !htmx(it);
  return {name, goes, tag: it.tagName.toLowerCase(), type: it.type || '', ringed, bare: Boolean(bare)};
}"""
PRESSED = {"a", "button", "summary"}
FILLED = {"input", "textarea"}


class ByKeys:
    """Tab, Shift+Tab, Enter, Space, arrows and letters."""

    script = True

    def __init__(self, page):
        self.page = page

    def _come_to(self, wanted, name, nth=0):
        """Tab on until what has the focus is wanted; once around the page at most."""
        seen = []
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            here = self.page.evaluate(FOCUSED)
            if here is None:
                continue
            seen.append(here["name"][:40])
            if wanted(here) and says(here, name):
                if nth:
                    nth -= 1
                    continue
                assert here["ringed"], f"{name}: has the focus, and does not show it"
                assert here["bare"], f"{name}: has the focus under something else"
                return here
        raise AssertionError(f"{name!r} was not reached by Tab: {seen[:60]} on {self.page.url}")

    def press(self, name, nth=0):
        here = self._come_to(lambda here: here["tag"] in PRESSED or here["type"] == "submit", name, nth)
        with self.page.expect_navigation() if here["goes"] else nullcontext():
            self.page.keyboard.press("Enter")

    def fill(self, name, text):
        here = self._come_to(lambda here: here["tag"] in FILLED, name)
        if here["type"] == "date":  # day, month and year one after the other, as its own parts stand
            self.page.keyboard.type("".join(reversed(text.split("-"))))
        else:
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)

    def choose(self, name, option):
        self._come_to(lambda here: here["tag"] == "select", name)
        self.page.keyboard.type(option)
        chosen = self.page.evaluate("document.activeElement.selectedOptions[0].text.trim()")
        assert chosen.startswith(option), chosen

    def tick(self, name):
        self._come_to(lambda here: here["type"] in ("checkbox", "radio"), name)
        self.page.keyboard.press("Space")

    def hand_in(self, name, file):
        self._come_to(lambda here: here["type"] == "file", name)
        with self.page.expect_file_chooser() as chooser:
            self.page.keyboard.press("Space")
        chooser.value.set_files(file)


class WithoutScript:
    """A browser that runs none: whole pages, forms and folds."""

    script = False

    def __init__(self, page):
        self.page = page

    def press(self, name, nth=0):
        pattern = re.compile(rf"(^|\W){re.escape(name)}")
        kinds = [self.page.get_by_role(role, name=pattern) for role in ("link", "button")]
        folds = self.page.locator("summary", has_text=pattern)
        kinds[0].or_(kinds[1]).or_(folds).locator("visible=true").nth(nth).click()
        self.page.wait_for_load_state()

    def fill(self, name, text):
        self._labelled(name, "input:not([type=hidden]), textarea").fill(text)

    def choose(self, name, option):
        box = self._labelled(name, "select")
        texts = [text.strip() for text in box.locator("option").all_inner_texts()]
        box.select_option(label=next(text for text in texts if text.startswith(option)))

    def tick(self, name):
        self._labelled(name, "input[type=checkbox], input[type=radio]").check()

    def hand_in(self, name, file):
        self._labelled(name, "input[type=file]").set_input_files(file)

    def _labelled(self, name, kind):
        pattern = re.compile(rf"(^|\W){re.escape(name)}")
        return self.page.get_by_label(pattern).and_(self.page.locator(kind)).locator("visible=true").first


def says(here, name):
    return re.search(rf"(^|\W){re.escape(name)}", here["name"]) is not None
