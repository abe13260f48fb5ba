"""Closed answers in people's own words, for one question or row by row."""

from __future__ import annotations

from collections.abc import Sequence

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.tokens import fold
from engine.expectation import Asking, ExpectedSlot
from engine.messages import DoubtReason, Entry, Given, Unclear, UnclearReason
from engine.understanding.scanning.spans import SpanKind, TextSpan, named_rows
from engine.understanding.weighing.clauses import Clause, pieces
from engine.understanding.weighing.repair import repaired

MACHINE_CHECK = "machine_check"
"""The role of the question what of the machine is not done."""


def options(
    hearing: MatchContext, clause: Clause, keep: bool | None, excepted: tuple[int, ...] = ()
) -> tuple[Entry, ...] | None:
    """The option that a clause names, for its rows where the question is per row; with a doubt unless ``keep``.

    ``excepted`` are rows that the clause before took out, which are meant where no others are named.
    """
    name, _, key = clause.meaning.partition(":")[2].partition(".")
    slot = hearing.expectation.slot(name)
    if slot is None or keep is None:
        return None
    said = hearing.text.strip()[:60]
    mixed = slot.per_row and _says_rows_and_others(clause.spans)
    doubt = None if keep and not mixed and not _names_another(hearing, slot, key, clause) else DoubtReason.INFERRED
    if slot in hearing.expectation.known:
        return (Given(slot=name, value=key, said=said, doubt=DoubtReason.INFERRED, correcting=True),)
    if not slot.per_row:
        return (Given(slot=name, value=key, said=said, doubt=doubt),)
    told = repaired(clause.spans, hearing)
    rows = _rows(hearing, slot, told.spans, excepted)
    if not rows or any(row not in hearing.every_row for row in rows):
        return None
    found = [Given(slot=name, row=row, value=key, said=said, doubt=doubt) for row in rows]
    return (*found, *_others(hearing, slot, key, told.spans, said, doubt))


def undone_named(hearing: MatchContext) -> Given | Unclear | None:
    """What of the machine a sentence says is not done, where that is asked: one thing at a time; None where it says no
    such thing."""
    slot = hearing.expectation.asked
    if slot is None or slot.role != MACHINE_CHECK or hearing.expectation.asking is not Asking.SLOT:
        return None
    places, loose = range(len(hearing.tokens)), hearing.loose
    done = option_called(slot, hearing.vocabulary.answers.yes)
    nodes = {key: node for key, node in hearing.options[slot.name].items() if key != done}
    named = [key for key, node in nodes.items() if any(hearing.matcher.match(node, place) for place in places)]
    if len(named) > 1:
        both = ", ".join(option.label.lower() for option in slot.options if option.key in named)
        return Unclear(reason=UnclearReason.SEVERAL_CHOICES, said=both[:60], slot=slot.name)
    if not named or not {token.key for token in hearing.tokens} & {*loose.not_words, *loose.except_words}:
        return None
    return Given(slot=slot.name, value=named[0], said=hearing.text.strip()[:60])


def option_called(slot: ExpectedSlot, phrases: Phrases) -> str | None:
    """The one option that these phrases are words for, such as those of a plain yes."""
    said = {fold(one.say) for one in phrases}
    meant = [option.key for option in slot.options if said & {fold(word) for word in option.words}]
    return meant[0] if len(meant) == 1 else None


def _names_another(hearing: MatchContext, slot: ExpectedSlot, key: str, clause: Clause) -> bool:
    """Whether words of another option stand in the clause as well, as in "the tube is cracked, so the scale"."""
    nodes, loose, match = hearing.options.get(slot.name, {}), hearing.loose, hearing.matcher.match
    first = [span for span in pieces(clause.spans)[0] if span.kind is not SpanKind.BREAK]
    if key in nodes and first and any(one.end >= first[-1].end for one in match(nodes[key], first[0].start)):
        return False
    turns = [span.start for span in clause.spans if hearing.says((*loose.concludes, *loose.contrasts), (span.start,))]
    words = [span.start for span in clause.spans if span.kind is SpanKind.WORD]
    words = [start for start in words if start >= max(turns, default=0)]
    return any(match(node, start) for other, node in nodes.items() if other != key for start in words)


def _says_rows_and_others(spans: Sequence[TextSpan]) -> bool:
    """Whether one clause names rows and all others too, so that it may say two things."""
    named = [span for span in spans if span.may_be_row]
    return any(span.rest or span.every for span in named) and not all(span.rest or span.every for span in named)


def _rows(
    hearing: MatchContext, slot: ExpectedSlot, spans: Sequence[TextSpan], excepted: tuple[int, ...]
) -> tuple[int, ...]:
    named = named_rows(spans)
    if but := [span for span in named if span.key == "<all-but>"]:
        return but[0].rows
    if any(span.rest for span in named):
        return slot.open_rows
    rows = {row for span in named for row in span.rows}
    rows |= {span.row for span in spans if span.row is not None and span.is_one_of(len(hearing.every_row))}
    return tuple(sorted(rows)) or excepted or slot.asked_rows


def _others(
    hearing: MatchContext, slot: ExpectedSlot, key: str, spans: Sequence[TextSpan], said: str, doubt: DoubtReason | None
) -> tuple[Given, ...]:
    """ "All on but four": of two options the rows that are taken out get the other one."""
    excepted = [span for span in spans if span.key == "<all-but>"]
    others = [option.key for option in slot.options if option.key != key]
    if len(excepted) != 1 or len(others) != 1:
        return ()
    rows = [row for row in hearing.every_row if row not in excepted[0].rows]
    return tuple(Given(slot=slot.name, row=row, value=others[0], said=said, doubt=doubt) for row in rows)
