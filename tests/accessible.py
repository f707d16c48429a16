"""Each page held against the rules of axe-core, at the size of a phone and of a desk, by day and after dark."""

from itertools import product
from pathlib import Path

import axe_playwright_python

RULES = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
SIZES = {"phone": {"width": 390, "height": 844}, "desktop": {"width": 1280, "height": 800}}
LOOKS = list(product(SIZES, ("light", "dark")))
VIOLATIONS = """
axe.run(document, {resultTypes: ["violations"]}).then(found => found.violations.flatMap(
  rule => rule.nodes.map(node => `${rule.id}: ${node.html.slice(0, 120)} ${node.failureSummary.slice(0, 200)}`)
))
"""


def violations(page, size, scheme):
    """What axe-core finds wrong on the page that is open, seen so. A fragment, which is no page, has nothing wrong."""
    if not page.evaluate("document.doctype !== null"):
        return []
    page.set_viewport_size(SIZES[size])
    page.emulate_media(color_scheme=scheme)
    if not page.evaluate("'axe' in window"):
        page.evaluate(RULES)
    return page.evaluate(VIOLATIONS)
