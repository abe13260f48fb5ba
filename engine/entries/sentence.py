"""All that a text may say under an expectation, piece by piece: which words can be which entry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.piece import IMPOSSIBLE, VALID, Found, Piece, found
from engine.entries.matching.report_parser import ReportParser
from engine.entries.matching.slot_fit import Place, fit
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.vocabulary import Vocabulary
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
    LeavingOut,
    Opened,
    Repairing,
    Unclear,
    UnclearReason,
)


class Sentence:
    """Every piece of a text by its first token."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.expectation = hearing.expectation
        self.vocabulary = hearing.vocabulary
        self.telling = ReportParser(hearing)

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
        for end in self.hearing.ends(self.vocabulary.joins, start):
            yield Piece(start, end, (), cost=0, frees=False)

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
            piece = Piece(start, match.end, (_about(entry, said),), cost, frees=not _moves_on(entry))
            yield self._if_rows(said.rows[:1], piece)

    def _reported(self, start: int) -> Iterator[Piece]:
        for told in self.telling.reports(start):
            entries = (told.entry, *told.more)
            rows = [row for entry in entries for row in entry.rows]
            yield self._if_rows(rows, Piece(start, told.end, entries, cost=VALID - 2 + told.rank))

    def _left_out(self, start: int) -> Iterator[Piece]:
        """Rows to be done without or taken in again, and those repaired; while something watches, what is told of rows
        are reports."""
        if self.expectation.asking is Asking.REPORT:
            return
        for phrases, kind, back in row_uses(self.vocabulary):
            for match in self.hearing.find(phrases, start):
                if rows := found(match.captures).rows:
                    entry = kind(rows=rows, back=back, said=self.hearing.said(start, match.end))
                    yield self._if_rows(rows, Piece(start, match.end, (entry,), cost=VALID - 2))

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
            if entries := self._placed(said, self.hearing.said(start, match.end), correcting):
                yield _valued(start, match.end, entries, bare)

    def _replaced(self, start: int) -> Iterator[Piece]:
        """A value behind a word that takes something back, such as "I mean eighty"; at the beginning of what is said it
        is for the place of the last value. After a plain no it may as well be for what is asked now: that is asked."""
        latest = self.expectation.latest if start == 0 and self.expectation.asking is Asking.SLOT else None
        slot = next((one for one in self.hearing.slots if latest is not None and one.name == latest.slot), None)
        if latest is None or slot is None:
            yield from self._values(start, self.vocabulary.given.replaced, correcting=True, bare=True)
            return
        plain_no = self.hearing.ends(self.vocabulary.answers.no, start) == [start + 1]
        for match in self.hearing.find(self.vocabulary.given.replaced, start):
            said, words = found(match.captures), self.hearing.said(start, match.end)
            fitted, here = fit(said.values[0], Place(slot, latest.row, words, True)), self._placed(said, words, True)
            asked = tuple(one for one in here if isinstance(one, Given))
            entries: tuple[Entry, ...] = (fitted,) if isinstance(fitted, Given) else here
            unsure = plain_no and match.end in self.hearing.ends(self.vocabulary.given.bare, start + 1)
            if isinstance(fitted, Given) and unsure and asked and (fitted,) != asked:
                entries = (Either(readings=((fitted,), asked)),)
            yield _valued(start, match.end, entries, bare=True)

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
            of_row = row if row is not None or not slot.per_row else slot.next_row
            place = Place(slot, of_row, words, correcting or (known and said.name is not None))
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

    def _rows_alone(self, start: int) -> Iterator[Piece]:
        """A row without its value: the value is still to be said."""
        slot = next((slot for slot in self.hearing.slots if slot.per_row), None)
        for match in self.hearing.matcher.rule("row", start):
            (row,) = found(match.captures).rows
            unclear = self._no_value(start, match.end, slot.name if slot else None, row)
            piece = Piece(start, match.end, (unclear,), cost=VALID if slot else IMPOSSIBLE, frees=False)
            yield self._if_rows((row,), piece)

    def _names_alone(self, start: int) -> Iterator[Piece]:
        for match in self.hearing.matcher.rule("name", start):
            unclear = self._no_value(start, match.end, found(match.captures).name, None)
            yield Piece(start, match.end, (unclear,), cost=IMPOSSIBLE, frees=False)

    def _no_value(self, start: int, end: int, slot: str | None, row: int | None) -> Unclear:
        return Unclear(reason=UnclearReason.NO_VALUE, said=self.hearing.said(start, end), slot=slot, row=row)

    def _again(self, start: int) -> Iterator[Piece]:
        for match in self.hearing.find(self.vocabulary.given.again, start):
            said = found(match.captures)
            piece = Piece(start, match.end, (Correcting(slot=said.name, row=said.row),), frees=False)
            yield self._if_rows(said.rows[:1], piece)

    # ---- rows

    def _exists(self, row: int) -> bool:
        rows = self.hearing.every_row
        return row in rows if rows else row > 0

    def _if_rows(self, rows: Sequence[int], piece: Piece) -> Piece:
        """The piece, or that the first of its rows that does not exist is none."""
        missing = next((row for row in rows if not self._exists(row)), None)
        if missing is None:
            return piece
        said = self.hearing.said(piece.start, piece.end)
        entry = Unclear(reason=UnclearReason.NO_SUCH_ROW, said=said, row=missing)
        return Piece(piece.start, piece.end, (entry,), cost=IMPOSSIBLE, frees=False)


def _valued(start: int, end: int, entries: tuple[Entry, ...], bare: bool) -> Piece:
    """Values, impossible as often as one of them cannot be."""
    wrong = sum(isinstance(entry, Unclear) for entry in entries)
    return Piece(start, end, entries, IMPOSSIBLE * wrong + VALID, bare=bare, frees=False)


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


def row_uses(vocabulary: Vocabulary) -> tuple[tuple[Phrases, type[LeavingOut] | type[Repairing], bool], ...]:
    """The phrases, what they tell, and whether they take it back."""
    return (
        (vocabulary.left_out, LeavingOut, False),
        (vocabulary.taken_in, LeavingOut, True),
        (vocabulary.repaired, Repairing, False),
        (vocabulary.not_repaired, Repairing, True),
    )
