"""Two ways to walk through the site: by keys alone, and by tapping where the browser runs no script."""

from dataclasses import dataclass
from typing import Any

STOPS = 150  # of the Tab key; a control that is further away is not reached by anybody
# where the keys are: what it is called, whether its ring is seen, and whether something lies over it
HERE = """() => {
  const it = document.activeElement
  if (!it || it === document.body) return null
  const labels = [...(it.labels || [])].map(label => label.textContent).join(" ")
  const name = it.getAttribute("aria-label") || labels || it.textContent || it.value || ""
  const label = it.matches("[type=checkbox], [type=radio]") && it.closest("label")
  const shown = label || it
  const box = it.getBoundingClientRect()
  const over = document.elementFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 20))
  const ringed = [it, shown].some(thing => {
    const style = getComputedStyle(thing)
    return (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0) || style.boxShadow !== "none"
  })
  return {
    name: name.replace(/\\s+/g, " ").trim(),
    ringed,
    covered: !(over && (it.contains(over) || over.contains(it) || shown.contains(over))),
  }
}"""


@dataclass
class Keys:
    """Tab, Enter, Space and letters; nothing is clicked, and nothing is given the focus."""

    page: Any

    def reach(self, name: str) -> None:
        passed = []
        for _ in range(STOPS):
            self.page.keyboard.press("Tab")
            here = self.page.evaluate(HERE)
            passed.append(here["name"][:40] if here else "the page")
            if here and here["name"].startswith(name):
                assert here["ringed"], f"no ring at {name}"
                assert not here["covered"], f"something lies over {name}"
                return
        raise AssertionError(f"{name} is not reached; passed {passed}")

    def type(self, name: str, text: str) -> None:
        self.reach(name)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def press(self, name: str) -> None:
        self.reach(name)
        self.page.keyboard.press("Enter")


@dataclass
class WithoutScript:
    """What is there when the page arrives, and what the browser does with it by itself."""

    page: Any

    def type(self, name: str, text: str) -> None:
        self.page.get_by_label(name).first.fill(text)

    def press(self, name: str) -> None:
        named = {"name": name}
        self.page.get_by_role("button", **named).or_(self.page.get_by_role("link", **named)).first.click()
