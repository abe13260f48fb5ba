"""The marks of a dial as an operator lists them: "A, A plus, B, B plus" or "A through F"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from engine.entries.matching.matcher import Matcher
from engine.entries.matching.numerals import spell
from engine.entries.phrases.match import Match
from engine.entries.phrases.pattern import Choice, Node, Word, phrase
from engine.entries.phrases.pattern import Sequence as InOrder
from engine.entries.phrases.tokens import Token, fold, tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.values import Dial

MOST_MARKS = 60
_LETTER = re.compile(r"[a-z]")
_RANGE = re.compile(r"[0-9]\s*[-–—]\s*[0-9]")


def read_marks(text: str, vocabulary: Vocabulary) -> Dial | None:
    """A dial with marks; None where the text is no list of at least two different ones."""
    marks = _letters(text, vocabulary) or _listed(text, vocabulary)
    if not 2 <= len(marks) <= MOST_MARKS or len(set(marks)) < len(marks):
        return None
    return Dial.marked(tuple(marks))


def _letters(text: str, vocabulary: Vocabulary) -> list[str]:
    """Marks from one letter through another."""
    tokens = tokenize(text, vocabulary.fillers)
    matcher = Matcher(tokens, vocabulary)
    letters: list[str] = []

    def letter(start: int) -> tuple[Match, ...]:
        fits = start < len(tokens) and _LETTER.fullmatch(tokens[start].key)
        return (Match(start + 1, ()),) if fits else ()

    matcher.hooks["letter"] = letter
    for lettered in vocabulary.dials.lettered:
        if any(match.end == len(tokens) for match in matcher.match(lettered.node, 0)):
            letters = [token.key for token in tokens if _LETTER.fullmatch(token.key)]
    if len(letters) != 2 or letters[0] >= letters[1]:
        return []
    return [chr(code).upper() for code in range(ord(letters[0]), ord(letters[1]) + 1)]


def _listed(text: str, vocabulary: Vocabulary) -> list[str]:
    """Marks one by one: parted by commas, or each letter or number beginning the next; a range of numbers is none."""
    if _RANGE.search(text) or _is_range(tokenize(text, vocabulary.fillers), vocabulary):
        return []
    joins = {fold(join.say) for join in vocabulary.joins}
    tokens = [token for token in tokenize(text, vocabulary.fillers) if token.key not in joins]
    signs = {fold(name): sign for sign, names in vocabulary.dials.signs.items() for name in (*names, sign)}
    begins = [_LETTER.fullmatch(token.key) or (token.is_number and len(token.key) <= 4) for token in tokens]
    if not all(token.is_break or token.key in signs or one for token, one in zip(tokens, begins, strict=True)):
        return []
    marks: list[str] = []
    for before, token in pairwise([_NOTHING, *tokens]):
        if token.is_break:
            continue
        if token.key not in signs:
            marks.append(token.text.upper())
        elif marks and not before.is_break:
            marks[-1] += signs[token.key]
        else:
            return []
    return marks


def _is_range(tokens: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Whether a word for a range stands between two numbers: "de 0 a 30" has no mark A."""
    return any(
        before.is_number and after.is_number and token.key in vocabulary.loose.range_words
        for before, token, after in zip(tokens, tokens[1:], tokens[2:], strict=False)
    )


_NOTHING = Token("", "", 0, 0, is_break=True)


def mark_node(mark: str, vocabulary: Vocabulary) -> Node:
    """A mark on a dial as it is said or typed: "A+" is "a plus" or "a +"."""
    return InOrder(tuple(_sign(token.text, vocabulary) for token in tokenize(mark)))


def _sign(text: str, vocabulary: Vocabulary) -> Node:
    if text.isascii() and text.isdigit():
        return Choice((phrase(spell(int(text), vocabulary.language)), Word(text)))
    names = vocabulary.dials.signs.get(text, ())
    return Choice((*(Word(name) for name in names), Word(text))) if names else Word(fold(text))
