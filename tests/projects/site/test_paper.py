"""A page laid out on paper."""

from projects.site.paper import PaperHead, heading_of, page_pdf, read_page
from tests.pdfs import words_of

HEAD = PaperHead("Treadle lathe", "Hollow Lane Works", "1 May 2026")


def on_sheets(html):
    return words_of(page_pdf(read_page(html), HEAD, {}))


def test_it_says_what_a_browser_would_print_and_nothing_else():
    page = """<html><body><header>Sign out</header><main><p class="crumbs">Back</p><h1>Blast <b>sheet</b></h1>
    <form><button>Send</button></form><p>Metal <b>3 °C</b> above its dew point, film 40 µm, 1.2 m² ≥ 1 m².</p>
    <dl><dt>Hours</dt><dd>54 min</dd></dl><ul><li>mask the bores</li></ul>
    <details><summary>How</summary><p>A = 2·m</p></details>
    <div class="on-paper"><details><summary>Why</summary><p>because</p></details></div>
    <svg><text>picture</text></svg></main></body></html>"""
    (said,) = on_sheets(page)
    for word in ("Metal 3 °C above its dew point, film 40 µm, 1.2 m² ≥ 1 m².", "Hours", "54 min", "mask the bores"):
        assert word in said
    assert "Why" in said
    assert "because" in said
    for left_out in ("Sign out", "Back", "Send", "A = 2", "picture"):
        assert left_out not in said
    assert heading_of(read_page(page)) == "Blast sheet"


def test_a_long_table_goes_on_with_its_heading_on_the_next_sheet_and_every_sheet_says_which_it_is():
    rows = "".join(f'<tr><td>piece {number};</td><td class="number">0.3 m²</td></tr>' for number in range(120))
    sheets = on_sheets(f"<main><h1>List</h1><table><tr><th>Mark</th><th>Area</th></tr>{rows}</table></main>")
    assert len(sheets) > 2
    for number, said in enumerate(sheets, start=1):
        assert f"page {number} of {len(sheets)}" in said
        assert all(word in said for word in ("Hollow Lane Works · Treadle lathe", "1 May 2026", "Mark Area"))
    assert all(f"piece {number};" in " ".join(sheets) for number in range(120))


def test_a_letter_that_the_font_lacks_is_told_and_accents_and_other_alphabets_are_kept():
    (said,) = on_sheets("<main><p>Żółć, Ångström, Москва, 鋳物 A → B</p></main>")
    assert "Żółć, Ångström, Москва, ?? A to B" in said
    assert "font does not hold" in said


def test_whatever_a_page_holds_comes_onto_paper():
    """Words longer than a sheet is wide, cells without end, tags never closed, a table in a table."""
    word = "x" * 900
    cell = "long words " * 400
    odd = f"<main><h2>{word}</h2><table><tr><th>{word}<td>{cell}<td colspan=3>{word}</table><ul><li><p>{word}<b>"
    assert "page 1 of" in on_sheets(odd)[0]
    assert on_sheets("")
    assert on_sheets("<main>" + "<div>" * 300 + "deep")
