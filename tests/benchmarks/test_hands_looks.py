"""Every kind of page by the rules of axe-core, on phone and desk, by day and after dark; and without sideways scrolling
on the smallest phone and with letters twice as large."""

import pytest

from tests.accessible import LOOKS, violations
from tests.addresses import of_kind, pages

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RUNS_OUT = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def test_hands_find_no_page_that_keeps_anybody_out(signed_in_page, known, one_of_each):
    page, seen, wrong, sideways = signed_in_page, 0, [], []
    asking = page.context.new_cdp_session(page)
    read = [(name, each.kind) for name, each in known.items() if each.read]
    for address in [address for name, kind in read for address in pages(name, of_kind(one_of_each, kind))]:
        page.goto(address)
        for width, letters in ((320, 16), (390, 32)):
            page.set_viewport_size({"width": width, "height": 740})
            asking.send("Page.setFontSizes", {"fontSizes": {"standard": letters}})
            if page.evaluate(RUNS_OUT) > 0:
                sideways.append((address, width, letters))
        asking.send("Page.setFontSizes", {"fontSizes": {"standard": 16}})
        for size, scheme in LOOKS:
            seen += 1
            wrong += [f"{address} {size} {scheme}: {fault}" for fault in violations(page, size, scheme)]
    print("\n" + "\n".join(wrong + [f"{each} runs out" for each in sideways]))
    print(f"figure axe.pages {seen} pages")
    print(f"figure axe.violations {len(wrong)} violations")
    print(f"figure reflow.pages_sideways {len(sideways)} pages")
    assert not wrong
    assert not sideways
