# SPDX-License-Identifier: GPL-3.0-or-later
"""What a test asks of a page in Markdown: its links, its anchors, its blocks of code and the sentences of its prose.

It knows the Markdown that our pages use: ``#`` headings, fences, tables, lists and links on one line or wrapped.
"""

import re
from dataclasses import dataclass

_FENCE = re.compile(r"^( *)```(\w*)\n(.*?)^\1```$", re.MULTILINE | re.DOTALL)
_HEADING = re.compile(r"^(#+) (.*)$", re.MULTILINE)
# the address may follow the text on the next line, and the text of a picture may be long
_LINK = re.compile(r"\[(?:[^\[\]]|\[[^\]]*\])*\]\(([^)\s]+)\)")
_CODE = re.compile(r"(`+)(?!`).+?(?<!`)\1(?!`)", re.DOTALL)
_ITEM = re.compile(r"^ *(?:[-*]|\d+\.) ", re.MULTILINE)
# a sentence ends at a full stop, a question mark or a colon before a space and what begins another one
_END = re.compile(r"(?<=[.?!])[)*_\"”]*\s+(?=[\"“(*_\[]*(?:`|[A-Z0-9…]))")
# full stops that end no sentence
_SHORT = re.compile(r"\b(?:e\.g|i\.e|etc|vs|ed|ch|p)\.(?= )")


@dataclass(frozen=True)
class Block:
    """A block of code: the heading that it stands under, its language and its text."""

    heading: str
    language: str
    text: str


def without_code(text: str) -> str:
    """Return ``text`` without its fenced blocks."""
    return _FENCE.sub("", text)


def blocks(text: str) -> list[Block]:
    """Return the fenced blocks of a page in order."""
    # blanked out at their own length, so that a # in a block is no heading and places stay
    outside = _FENCE.sub(lambda found: " " * len(found[0]), text)
    headings = [(found.start(), found[2]) for found in _HEADING.finditer(outside)]
    made = []
    for found in _FENCE.finditer(text):
        above = [title for start, title in headings if start < found.start()]
        made.append(Block(above[-1] if above else "", found[2], found[3]))
    return made


def links(text: str) -> list[str]:
    """Return where the links and pictures of a page lead, in order."""
    return _LINK.findall(_CODE.sub(lambda found: found[0].replace("[", "").replace("(", ""), without_code(text)))


def anchors(text: str) -> set[str]:
    """Return the anchors of the headings of a page, as GitHub makes them; a heading that comes twice has two."""
    made: set[str] = set()
    for _, title in _HEADING.findall(without_code(text)):
        words = re.sub(r"[^\w\- ]", "", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", title).lower())
        name = words.strip().replace(" ", "-")
        again, number = name, 0
        while again in made:
            number += 1
            again = f"{name}-{number}"
        made.add(again)
    return made


def sentences(text: str) -> list[str]:
    """Return the sentences of the prose of a page: no code, tables, headings or what is folded away."""
    prose = re.sub(r"^<details>.*?^</details>$", "", without_code(text), flags=re.MULTILINE | re.DOTALL)
    kept = [line for line in prose.splitlines() if not re.match(r" *\||#+ |!\[", line)]
    found = []
    for paragraph in re.split(r"\n\s*\n", _ITEM.sub("\n\n", "\n".join(kept))):
        flat = " ".join(paragraph.split())
        found += sentences_of(re.sub(r"\[((?:[^\[\]]|\[[^\]]*\])*)\]\([^)\s]+\)", r"\1", flat))
    return found


def sentences_of(flat: str) -> list[str]:
    """Return the sentences of a paragraph on one line; what stands in code counts as one word."""
    shown = _SHORT.sub(lambda found: found[0].replace(".", ""), _CODE.sub(_one_word, flat))
    return [sentence for sentence in _END.split(shown) if sentence.strip()]


def words_of(sentence: str) -> list[str]:
    """Return the words of a sentence: what holds a letter or a digit."""
    return [word for word in sentence.split() if re.search(r"\w", word)]


def _one_word(found: re.Match[str]) -> str:
    return "`" + re.sub(r"\s+", "_", found[0].strip("`")).rstrip(".") + "`"
