"""A text given as a name: what leads to it is left out, what is no name is not taken for one.

A product, a lot or a field may be called almost anything, so a name is taken as it stands; but where the words say that
there is none, the question is skipped, and where they look like talk (a question, a pronoun, "hang on"), it is asked.
"""

from __future__ import annotations

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.name import known
from engine.entries.matching.report_parser import digits_of
from engine.entries.phrases.tokens import fold
from engine.expectation import ExpectedSlot
from engine.messages import (
    Answered,
    Asked,
    Command,
    Commanded,
    DoubtReason,
    Entry,
    Given,
    Opened,
    Unclear,
    UnclearReason,
)

MOST_TEXT, MOST_DESCRIPTION = 80, 160
"""Signs of a name; of a list or a description."""
MOST_HEADING = 5
"""So many words at most stand before a colon that what they lead to follows (own decision)."""
PLACES = frozenset({"store", "location"})
"""Roles of texts that say where something is."""
MOST_WORDS = 6
"""A longer name is asked about: people give a product, a lot or a field fewer words (own decision)."""


def named(hearing: MatchContext, slot: ExpectedSlot, entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """The text as a name for the slot; as a command, a question or another dialog where all of it is that."""
    acts = all(isinstance(entry, Commanded | Asked | Opened) for entry in entries)
    if acts or all(isinstance(entry, Answered) for entry in entries):
        return entries
    if _declines(hearing):
        return (Commanded(command=Command.SKIP),)
    clean = digits_of(hearing) or _led(hearing, slot)
    if len(clean) > MOST_DESCRIPTION or not clean.isprintable():
        return (Unclear(reason=UnclearReason.OUT_OF_RANGE, said=clean[:60], slot=slot.name),)
    long = len(clean) > MOST_TEXT and not slot.any_words
    doubt = DoubtReason.UNUSUAL if known(clean, slot.names) is None and (long or _is_talk(hearing, clean)) else None
    return (Given(slot=slot.name, value=clean, said=clean, doubt=doubt),)


def _declines(hearing: MatchContext) -> bool:
    """Whether the words say that there is no name, or to skip it, somewhere in them."""
    ends = hearing.ends(hearing.naming.unknown, hearing.after_breaks(0))
    return any(_is_remark(hearing, end) for end in ends) or hearing.says(hearing.naming.skipped)


def _is_remark(hearing: MatchContext, end: int) -> bool:
    """Whether nothing follows there, or what stands behind a mark names nothing: no capital and no number in it."""
    mark, after = hearing.tokens[end : end + 1], hearing.tokens[end + 1 :]
    return all(token.is_break for token in mark) and not any(token.stands_out for token in after)


def _led(hearing: MatchContext, slot: ExpectedSlot) -> str:
    """The text without the words that lead to a name, such as "it's called", or "lot" before a number."""
    start = hearing.after_breaks(0)
    whole = hearing.said(start, len(hearing.tokens)) if slot.any_words else hearing.text
    text = _bare(" ".join(whole.split()))
    ends = hearing.ends(hearing.naming.leads, start)
    if slot.role in PLACES:
        ends = [end for end in ends if end > start + 1]
        after = hearing.after_breaks(max(ends, default=start))
        ends += hearing.ends(hearing.naming.places, start, after)
    if (begin := _behind_heading(hearing, slot, max(ends, default=start))) is not None:
        ends.append(begin)
    if ends and (said := _bare(hearing.said(max(ends), len(hearing.tokens)))):
        return said
    for name in sorted(map(fold, slot.called), key=len, reverse=True):
        number = _bare(text[len(name) + 1 :])
        if fold(text).startswith(f"{name} ") and number[:1].isdigit():
            return number
    return text


def _behind_heading(hearing: MatchContext, slot: ExpectedSlot, start: int) -> int | None:
    """Where a text begins behind the name of its own question, "formulation: granule", "the crop is milo", or a name
    behind a colon, "on the ticket: Product A"; None where nothing heads it so."""
    tokens, vocabulary = hearing.tokens, hearing.vocabulary
    colons = [place for place, token in enumerate(tokens[start:], start) if token.key in vocabulary.typed_link]
    if colons and not slot.any_words and colons[0] - start <= MOST_HEADING and colons[0] + 1 < len(tokens):
        heading = tokens[start : colons[0]]
        return None if any(token.is_number or token.is_break for token in heading) else colons[0] + 1
    while hearing.key(start) in vocabulary.small_words:
        start += 1
    for name in sorted(map(fold, slot.called), key=len, reverse=True):
        end = start + len(name.split())
        if [token.key for token in tokens[start:end]] != name.split() or end >= len(tokens):
            continue
        links = [link for link in hearing.ends(vocabulary.link, end) if link < len(tokens)]
        marked = tokens[end].is_break or tokens[end].key in vocabulary.typed_link
        ends = [*links, *((end + 1,) if marked else ()), *((end,) if slot.any_words else ())]
        return max(ends, default=None)
    return None


def _bare(text: str) -> str:
    return text.strip(" .,;:!")


def _is_talk(hearing: MatchContext, name: str) -> bool:
    words = [_bare(word) for word in fold(name).split()]
    return "?" in hearing.text or len(name.split()) > MOST_WORDS or bool(hearing.naming.talk & set(words))
