"""All that a text may say under an expectation, piece by piece: which words can be which entry."""

from __future__ import annotations

from collections.abc import Iterator

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.piece import IMPOSSIBLE, VALID, Found, Piece, found
from engine.entries.matching.report_parser import Telling
from engine.entries.matching.slot_fit import Place, fit
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.row_uses import row_uses
from engine.expectation import Asking, ExpectedSlot
from engine.messages import (
    Answered,
    Asked,
    Chosen,
    Command,
    Commanded,
    Correcting,
    Either,
    Entry,
    Given,
    Opened,
    Unclear,
    UnclearReason,
)


class Sentence:
    """Every piece of a text by its first token."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.expectation = hearing.expectation
        self.vocabulary = hearing.vocabulary
        self.telling = Telling(hearing)

    def pieces(self, start: int) -> Iterator[Piece]:
        """Every piece that begins at a token."""
        yield from self._between(start)
        yield from self._said_whole(start)
        yield from self._reported(start)
        yield from self._left_out(start)
        if self.hearing.slots:
            yield from self._given(start)
            yield from self._again(start)

    def _between(self, start: int) -> Iterator[Piece]:
        if self.hearing.tokens[start].is_break:
            yield Piece(start, start + 1, (), cost=0, frees=False)
        for match in self.hearing.find(self.vocabulary.joins, start):
            yield Piece(start, match.end, (), cost=0, frees=False)

    # ---- fixed phrases

    def _said_whole(self, start: int) -> Iterator[Piece]:
        answers = self.vocabulary.answers
        answering = self.expectation.asking in (Asking.CONFIRM, Asking.CHOOSE)
        cost = VALID - 1 if answering else VALID + 1
        yield from self._phrases(start, answers.yes, Answered(yes=True), cost)
        yield from self._phrases(start, answers.no, Answered(yes=False), cost)
        if self.expectation.asking is Asking.CHOOSE:
            yield from self._phrases(start, answers.neither, Answered(yes=False), cost)
            for index, phrases in enumerate(answers.chosen[: len(self.expectation.candidates)]):
                yield from self._phrases(start, phrases, Chosen(index=index), cost)
            for index, name in enumerate(self.expectation.ways):
                yield from self._phrases(start, self.vocabulary.ways[name], Chosen(index=index), cost)
        key = self.hearing.key(start)
        for name, phrases in self.vocabulary.orders_by_key.at(key).items():
            yield from self._phrases(start, phrases, self.vocabulary.orders[name][0], VALID - 2)
        for topic, phrases in self.vocabulary.topics_by_key.at(key).items():
            yield from self._phrases(start, phrases, Asked(topic=topic), VALID - 1)
        for dialog, node in self.hearing.openings.items():
            for match in self.hearing.matcher.match(node, start):
                yield Piece(start, match.end, (Opened(dialog=dialog),), cost=VALID - 1)

    def _phrases(self, start: int, phrases: Phrases, entry: Entry, cost: int) -> Iterator[Piece]:
        for match in self.hearing.find(phrases, start):
            said = found(match.captures)
            yield self._if_row(start, match.end, said, _about(entry, said), cost)

    def _if_row(self, start: int, end: int, said: Found, entry: Entry, cost: int = VALID) -> Piece:
        """The entry, or that the row in it does not exist."""
        if said.row is None or self._exists(said.row):
            return Piece(start, end, (entry,), cost, frees=not _moves_on(entry))
        return self._impossible(start, end, self._no_row(start, end, said.row))

    def _reported(self, start: int) -> Iterator[Piece]:
        for told in self.telling.reports(start):
            entries = (told.entry, *told.more)
            missing = [row for entry in entries for row in entry.rows if not self._exists(row)]
            if missing:
                yield self._impossible(start, told.end, self._no_row(start, told.end, missing[0]))
            else:
                yield Piece(start, told.end, entries, cost=VALID - 2 + told.rank)

    def _left_out(self, start: int) -> Iterator[Piece]:
        """Rows to be done without or taken in again, and those repaired; while something watches, what is told of rows
        are reports."""
        if self.expectation.asking is Asking.REPORT:
            return
        for phrases, kind, back in row_uses(self.vocabulary):
            for match in self.hearing.find(phrases, start):
                rows = found(match.captures).rows
                entry = kind(rows=rows, back=back, said=self.hearing.said(start, match.end))
                missing = [row for row in rows if not self._exists(row)]
                if missing:
                    yield self._impossible(start, match.end, self._no_row(start, match.end, missing[0]))
                elif rows:
                    yield Piece(start, match.end, (entry,), cost=VALID - 2)

    # ---- values

    def _given(self, start: int) -> Iterator[Piece]:
        given = self.vocabulary.given
        yield from self._values(start, given.rows, correcting=False)
        if start == 0 or self.hearing.tokens[start - 1].key not in self.vocabulary.before_row:
            yield from self._values(start, given.apart, correcting=False)
        yield from self._values(start, given.corrected, correcting=True)
        yield from self._values(start, given.named, correcting=False)
        yield from self._values(start, given.renamed, correcting=True)
        yield from self._values(start, given.bare, correcting=False, bare=True)
        yield from self._replaced(start)
        yield from self._rows_alone(start)
        yield from self._names_alone(start)

    def _values(self, start: int, phrases: Phrases, correcting: bool, bare: bool = False) -> Iterator[Piece]:
        for match in self.hearing.find(phrases, start):
            said = found(match.captures)
            entries = self._placed(said, self.hearing.said(start, match.end), correcting)
            if entries:
                wrong = sum(isinstance(entry, Unclear) for entry in entries)
                cost = IMPOSSIBLE * wrong + VALID
                yield Piece(start, match.end, entries, cost, bare=bare, frees=False)

    def _replaced(self, start: int) -> Iterator[Piece]:
        """A value behind a word that takes something back, such as "I mean eighty"; at the beginning of what is said it
        is for the place of the last value. After a plain no it may as well be for what is asked now: that is asked."""
        latest = self.expectation.latest if start == 0 and self.expectation.asking is Asking.SLOT else None
        known = (*self.expectation.slots, *self.expectation.known)
        slot = next((one for one in known if latest is not None and one.name == latest.slot), None)
        if latest is None or slot is None:
            yield from self._values(start, self.vocabulary.given.replaced, correcting=True, bare=True)
            return
        no = [match.end for match in self.hearing.find(self.vocabulary.answers.no, start)]
        for match in self.hearing.find(self.vocabulary.given.replaced, start):
            said, words = found(match.captures), self.hearing.said(start, match.end)
            fitted, here = fit(said.values[0], Place(slot, latest.row, words, True)), self._placed(said, words, True)
            asked = tuple(one for one in here if isinstance(one, Given))
            entries: tuple[Entry, ...] = (fitted,) if isinstance(fitted, Given) else here
            alone = [one.end for one in self.hearing.find(self.vocabulary.given.bare, start + 1)]
            unsure = no == [start + 1] and match.end in alone
            if isinstance(fitted, Given) and unsure and asked and (fitted,) != asked:
                entries = (Either(readings=((fitted,), asked)),)
            wrong = sum(isinstance(entry, Unclear) for entry in entries)
            yield Piece(start, match.end, entries, IMPOSSIBLE * wrong + VALID, bare=True, frees=False)

    def _placed(self, said: Found, words: str, correcting: bool) -> tuple[Entry, ...]:
        """One entry for every row named, or for the row or slot that is asked for."""
        if not said.rows:
            entry = self._fitted(said, None, words, correcting)
            return self._for_asked_rows(entry) if entry else ()
        if self._is_count(said):
            return ()
        entries = [self._fitted(said, row, words, correcting) for row in said.rows]
        return tuple(entry for entry in entries if entry)

    def _is_count(self, said: Found) -> bool:
        """Whether what looks like the value of all rows may be their number: "all eight"."""
        value = said.values[0] if said.values else None
        if said.rows != self.hearing.every_row or not isinstance(value, Amount) or len(value.parts) != 1:
            return False
        numeral, unit = value.parts[0]
        return unit is None and numeral.value == len(said.rows) > 1

    def _for_asked_rows(self, entry: Entry) -> tuple[Entry, ...]:
        """A value that names no row, for all rows that are asked about together."""
        if not isinstance(entry, Given):
            return (entry,)
        rows = next((slot.next_rows for slot in self.hearing.slots if slot.name == entry.slot), ())
        return tuple(entry.model_copy(update={"row": row}) for row in rows) or (entry,)

    def _fitted(self, said: Found, row: int | None, words: str, correcting: bool) -> Entry | None:
        failure: Entry | None = None
        for slot, known in self._candidates(said.name, row):
            if row is not None and not self._exists(row):
                return Unclear(reason=UnclearReason.NO_SUCH_ROW, said=words, slot=slot.name, row=row)
            place = Place(slot, self._row_of(slot, row), words, correcting or (known and said.name is not None))
            fitted = fit(said.values[0], place)
            if isinstance(fitted, Given) and slot.per_row and fitted.row is None:
                fitted = place.unclear(UnclearReason.WHICH_ROW)
            if isinstance(fitted, Given):
                return fitted
            failure = failure or fitted
        return failure

    def _candidates(self, name: str | None, row: int | None) -> Iterator[tuple[ExpectedSlot, bool]]:
        """The slots a value may be for, likeliest first, and whether each has a value already."""
        slots = [(slot, False) for slot in self.expectation.slots]
        if name is not None or row is not None:
            slots += [(slot, True) for slot in self.expectation.known]
        for slot, known in slots:
            if (name is None or slot.name == name) and (row is None or slot.per_row):
                yield slot, known

    def _row_of(self, slot: ExpectedSlot, row: int | None) -> int | None:
        return row if row is not None or not slot.per_row else slot.next_row

    def _rows_alone(self, start: int) -> Iterator[Piece]:
        """A row without its value: the value is still to be said."""
        for match in self.hearing.matcher.rule("row", start):
            (row,) = found(match.captures).rows
            said = self.hearing.said(start, match.end)
            slot = next((slot for slot in self.hearing.slots if slot.per_row), None)
            unclear = Unclear(reason=UnclearReason.NO_VALUE, said=said, slot=slot.name if slot else None, row=row)
            if not self._exists(row):
                yield self._impossible(start, match.end, self._no_row(start, match.end, row))
            elif slot is None:
                yield self._impossible(start, match.end, unclear)
            else:
                yield Piece(start, match.end, (unclear,), cost=VALID, frees=False)

    def _names_alone(self, start: int) -> Iterator[Piece]:
        for match in self.hearing.matcher.rule("name", start):
            said = self.hearing.said(start, match.end)
            unclear = Unclear(reason=UnclearReason.NO_VALUE, said=said, slot=found(match.captures).name)
            yield self._impossible(start, match.end, unclear)

    def _again(self, start: int) -> Iterator[Piece]:
        for match in self.hearing.find(self.vocabulary.given.again, start):
            said = found(match.captures)
            yield self._if_row(start, match.end, said, Correcting(slot=said.name, row=said.row))

    # ---- rows

    def _exists(self, row: int) -> bool:
        rows = self.hearing.every_row
        return row in rows if rows else row > 0

    def _no_row(self, start: int, end: int, row: int) -> Unclear:
        return Unclear(reason=UnclearReason.NO_SUCH_ROW, said=self.hearing.said(start, end), row=row)

    def _impossible(self, start: int, end: int, entry: Entry) -> Piece:
        return Piece(start, end, (entry,), cost=IMPOSSIBLE, frees=False)


_MOVING = frozenset({Command.SKIP, Command.SCRATCH, Command.BACK})


def _moves_on(entry: Entry) -> bool:
    """Whether another row is asked for after it, so that nobody can tell which row a bare value after it is for."""
    return isinstance(entry, Correcting) or (isinstance(entry, Commanded) and entry.command in _MOVING)


def _about(entry: Entry, said: Found) -> Entry:
    """The entry with the row, the name or the area that was said with it."""
    match entry:
        case Commanded():
            return entry.model_copy(update={"row": said.row})
        case Asked():
            return entry.model_copy(update={"row": said.row, "slot": said.name, "amount": said.area})
        case _:
            return entry
