"""A PDF as others read it: its words by a PDF library, its codes by a decoder, from the picture of each page."""

import pypdfium2
import zxingcpp


def pictures_of(pdf, dots_per_inch=150):
    return [page.render(scale=dots_per_inch / 72).to_pil() for page in pypdfium2.PdfDocument(pdf)]


def words_of(pdf):
    """Of each page the words in order, with single blanks."""
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pypdfium2.PdfDocument(pdf)]


def codes_in(pdf):
    """What the codes on all pages say, in the order of the pages."""
    return [code.text for picture in pictures_of(pdf) for code in zxingcpp.read_barcodes(picture)]
