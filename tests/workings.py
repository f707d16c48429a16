"""The workings of a page as somebody reads them who does the sum anew: inputs, result, and the table of hours."""

import re
from dataclasses import dataclass
from html import unescape

BLOCK = re.compile(r'(?s)<details class="working">(.*?)</details>')
NUMBER = re.compile(r"-?\d[\d,]*\.?\d*(?:e-?\d+)?")


def words(html):
    plain = unescape(re.sub(r"<[^>]+>", " ", html)).replace("−", "-").replace("\u202f", "").replace("\xa0", " ")
    return " ".join(plain.split())


def numbers(text):
    """The numbers in a text, in order; a range's dash is no minus."""
    return [float(found.replace(",", "")) for found in NUMBER.findall(re.sub(r"(?<=\d)[–-](?=\d)", " ", text))]


@dataclass(frozen=True)
class WorkingRead:
    name: str
    formula: str
    inputs: dict[str, str]
    result: str
    ledger: list[dict[str, str]]

    def number(self, label):
        """The first number of the input whose label begins so."""
        (text,) = [value for key, value in self.inputs.items() if key.startswith(label)]
        return numbers(text)[0]

    @property
    def told(self):
        return numbers(self.result)[0]


def workings(answer):
    """All that a page shows, in its order."""
    return [_read(block) for block in BLOCK.findall(answer.content.decode())]


def working(answer, name):
    """The first one whose name begins so."""
    found = [each for each in workings(answer) if each.name.startswith(name)]
    assert found, (name, sorted({each.name for each in workings(answer)}))
    return found[0]


def _read(block):
    name = words(re.search(r"(?s)<summary>(.*?)</summary>", block)[1]).rsplit(": ", 1)[0]
    formula = re.search(r'(?s)<p class="formula">(.*?)</p>', block)
    inputs = {
        words(label): words(value) for label, value in re.findall(r"(?s)<dt>(.*?)</dt>\s*<dd.*?>(.*?)</dd>", block)
    }
    result = inputs.pop("Result", "")
    heads = [words(head) for head in re.findall(r"(?s)<th(?! scope)[^>]*>(.*?)</th>", block)]
    rows = [re.findall(r"(?s)<t[hd][^>]*>(.*?)</t[hd]>", row) for row in re.findall(r"(?s)<tr>(.*?)</tr>", block)]
    ledger = [dict(zip(heads, map(words, row), strict=True)) for row in rows if len(row) == len(heads)][1:]
    return WorkingRead(name, words(formula[1]) if formula else "", inputs, result, ledger)
