"""How long the sentences of README and handbook are: ``python tests/handbook/sentence_lengths.py`` prints each page.

A sentence is what stands between full stops, question marks, colons and ends of paragraphs and list items; code blocks,
equations, tables and headings are left out, a word is what has a letter or a digit.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

LONG = 20  # words: a sentence of more asks to be read twice (a rule of thumb of technical writing)
ROOT = Path(__file__).parents[2]
CHANGES = "changes.md"  # lines of a list, looked up and not read through


def prose_files() -> list[Path]:
    """README and the pages of prose, in order of their names."""
    pages = sorted((ROOT / "burnerlab" / "handbook").glob("*.md"))
    return [ROOT / "README.md", *(path for path in pages if path.name != CHANGES)]


def sentences(text: str) -> Iterator[list[str]]:
    """The words of each sentence.

    >>> [len(words) for words in sentences("# Title\\n\\nOne idea, 1.5 mm. Two\\nlines `and code`: end.")]
    [4, 4, 1]
    """
    text = re.sub(r"(?ms)^```.*?^```$", "", text)
    text = re.sub(r"(?m)^(#|\||<!--|!\[).*$", "", text)
    text = re.sub(r"`[^`]*`(?:, `[^`]*`)+", "names", text)  # a list of names is looked up, not read
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text)
    for block in re.split(r"\n\s*\n|\n\s*(?:[-*]|\d+\.)\s", text):
        for sentence in re.split(r"(?<=[.?!:])\s+", block):
            words = [word for word in sentence.split() if re.search(r"\w", word)]
            if words:
                yield words


def figures(path: Path) -> tuple[int, float, float]:
    """Sentences of a page, mean words of one, share of those of more than ``LONG`` words."""
    lengths = [len(words) for words in sentences(path.read_text(encoding="utf-8"))]
    return len(lengths), sum(lengths) / len(lengths), sum(one > LONG for one in lengths) / len(lengths)


def report() -> Iterator[str]:
    """A line for each page and one for all."""
    yield f"{'page':28} sentences  mean words  over {LONG} words"
    whole = [(path.name, *figures(path)) for path in prose_files()]
    every = sum(count for _, count, _, _ in whole)
    mean = sum(count * mean for _, count, mean, _ in whole) / every
    share = sum(count * share for _, count, _, share in whole) / every
    for name, count, words, long in (*whole, ("all", every, mean, share)):
        yield f"{name:28} {count:9} {words:11.1f} {100 * long:12.0f} %"


if __name__ == "__main__":
    sys.stdout.write("\n".join(report()) + "\n")
