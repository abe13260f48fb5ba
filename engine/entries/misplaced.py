"""What was heard clearly and has no place at the question that is asked: it may answer another one.

A measure with its unit that just one later question takes is offered there; one that just one known value takes would
replace that. Rows and amounts that nothing takes are told as heard, beside what is needed. The unit must have been
said, and a value for a row its row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from engine.entries.matching.name import known
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import DoubtReason, Entry, Given, Unclear, UnclearReason
from engine.quantities import UNITS

ReadText = Callable[[str, Expectation], tuple[Entry, ...]]
MOST_SAID = 60
_LOST = frozenset(
    {
        UnclearReason.WRONG_UNIT,
        UnclearReason.UNKNOWN_WORDS,
        UnclearReason.NOT_A_CHOICE,
        UnclearReason.NO_SUCH_SETTING,
        UnclearReason.NO_VALUE,
        UnclearReason.WHICH_ROW,
    }
)


def placed(text: str, entries: tuple[Entry, ...], expectation: Expectation, read: ReadText) -> tuple[Entry, ...]:
    """The entries of a spoken text, or where it belongs if that is plainly not what is asked."""
    if not expectation.elsewhere or expectation.asking is not Asking.SLOT or not _is_lost(entries, expectation):
        return entries
    later = list(_taken(text, expectation.anywhere, expectation, read))
    if len(later) == 1:
        return tuple(one.model_copy(update={"doubt": DoubtReason.ELSEWHERE}) for one in later[0])
    before = list(_taken(text, (one for one in expectation.known if not one.per_row), expectation, read))
    if not later and len(before) == 1:
        return before[0]
    if not later and not before and not _is_amount(text, expectation, read):
        return entries
    return (Unclear(reason=UnclearReason.MISPLACED, said=text[:MOST_SAID], slot=expectation.slots[0].name),)


def _is_lost(entries: tuple[Entry, ...], expectation: Expectation) -> bool:
    """Whether nothing came of the words at this question, or only a name that was never told before."""
    asked = expectation.slots[0]
    for entry in entries:
        match entry:
            case Unclear(reason=reason) if reason in _LOST:
                continue
            case Given(slot=name, value=str(value)) if asked.kind is SlotKind.TEXT and name == asked.name:
                if known(value, asked.names) is not None:
                    return False
            case _:
                return False
    return bool(entries)


def _taken(
    text: str, slots: Iterable[ExpectedSlot], expectation: Expectation, read: ReadText
) -> Iterator[tuple[Given, ...]]:
    """What the words are to each of these slots that takes all of them for one measure."""
    for slot in slots:
        if slot.kind is SlotKind.MEASURE:
            given = _all_given(read(text, expectation.only(slot.model_copy(update={"default_unit": None}))))
            if len(given) == 1:
                yield given


def _is_amount(text: str, expectation: Expectation, read: ReadText) -> bool:
    """Whether all the words are a measure with a unit that is asked elsewhere, or rows with a number each."""
    dimensions = tuple(dict.fromkeys(UNITS[unit].dimension for unit in expectation.elsewhere))
    alone = ExpectedSlot(name="amount", kind=SlotKind.MEASURE, dimensions=dimensions, units=expectation.elsewhere)
    of_row = alone.model_copy(update={"per_row": True, "default_unit": expectation.elsewhere[0]})
    return any(_all_given(read(text, expectation.only(slot))) for slot in (alone, of_row))


def _all_given(entries: tuple[Entry, ...]) -> tuple[Given, ...]:
    """The entries, where all are values that were said with all that belongs to them; else none."""
    given = tuple(one for one in entries if isinstance(one, Given) and one.doubt is None)
    return given if len(given) == len(entries) else ()
