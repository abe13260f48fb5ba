"""What is answered to words that could not be used: why, and from the second time on the same thing asked another way.

The first time the reason alone is said, with what was heard that has a meaning. The second time in a row a number that
was spoken is asked digit by digit, a closed answer by its buttons and the words for it, anything else with its hint;
after that skip, typing or another way out is offered. So it goes on in turn: no line is said three times in a row.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from engine.dialog.expectation_builder import usual
from engine.dialog.facts.events import Misheard
from engine.dialog.facts.waiting import row_count, rows_of
from engine.dialog.questions.outlook import say_what_next
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.prompts import closed_answers, other_words
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot import Slot
from engine.dialog.schema.slot_roles import Role, name_in
from engine.dialog.taking.commands import hint, nothing_open
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.numerals import spell_digits
from engine.entries.phrases.tokens import MOST_CHARACTERS, MOST_TOKENS
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Expectation, Range, SlotKind
from engine.messages import Unclear, UnclearReason
from engine.quantities import Measure
from engine.values import Dial, Value

SECOND, THIRD = 2, 3
MOST_NAMED = 3
LEAST, MOST = Decimal("0.01"), 99_999
"""Other numbers are none that anybody weighs, counts or measures here."""
_EXAMPLES = (49.5, 16, 8, 2)
"""Numbers to show how digits are said where nothing is known of the value: the first that may be an answer."""


def misheard(builder: TurnBuilder, unclear: Unclear) -> None:
    """Note what was not understood and say how to go on; several parts of one utterance count as one time."""
    also = any(isinstance(fact, Misheard) for fact in builder.facts)
    builder.add(Misheard(reason=unclear.reason, said=unclear.said, also=also))
    if builder.state.dialog is None:
        builder.lines.append(_unknown(builder, unclear))
        say_what_next(builder) if other_words(builder.state.misheard) else nothing_open(builder)
        return
    for line in (_reason(builder, unclear), "" if also else _otherwise(builder, unclear)):
        if line not in builder.lines:
            builder.lines.append(line)


def aside(builder: TurnBuilder) -> None:
    """Talk that is not for the program: it waits once without a question, then goes on as after unclear words."""
    if builder.state.dialog is None:
        nothing_open(builder)
        if builder.before.endswith(builder.lines[-1]):
            builder.lines.pop()
            misheard(builder, Unclear(reason=UnclearReason.UNKNOWN_WORDS))
        return
    waits = builder.wording.say(SystemKey.WAITS)
    if builder.before == waits or builder.state.misheard:
        misheard(builder, Unclear(reason=UnclearReason.UNKNOWN_WORDS))
    else:
        builder.lines.append(waits)
        builder.waits = True


# ---------------------------------------------------------------- asked another way


def _otherwise(builder: TurnBuilder, unclear: Unclear) -> str:
    """The way to answer that is offered: every second time the words for it, in between another way out."""
    times = builder.state.misheard
    if times < SECOND:
        return ""
    words = [button.says for button in closed_answers(builder.script, builder.dialog, builder.wording, times)]
    slot = _slot(builder, unclear)
    if unclear.reason is UnclearReason.MISPLACED:
        return _of_what_is_asked(builder, slot)
    if not other_words(times):
        return _way_out(builder, slot, words)
    if words:
        return builder.wording.say(SystemKey.PRESS_OR_SAY, choices=builder.wording.join(words))
    return hint(builder) if not builder.spoken or slot is None else _by_digits(builder, slot)


def _of_what_is_asked(builder: TurnBuilder, slot: Slot | None) -> str:
    """What may be said where words were heard well and are for something else."""
    if slot is not None and slot.optional:
        return builder.wording.say(SystemKey.SKIP_IT)
    return hint(builder) if other_words(builder.state.misheard) else ""


def _way_out(builder: TurnBuilder, slot: Slot | None, words: list[str]) -> str:
    if not builder.questions and slot is not None and slot.optional:
        return builder.wording.say(SystemKey.SKIP_OR_TYPE if builder.spoken else SystemKey.SKIP_IT)
    if not builder.spoken or (slot is None and not words):
        return builder.wording.say(AnswerKey.OTHER_WAYS)
    if words:
        return builder.wording.say(SystemKey.PRESS_OR_TYPE, choices=builder.wording.join(words))
    return builder.wording.say(SystemKey.TYPE_IT)


def _slot(builder: TurnBuilder, unclear: Unclear) -> Slot | None:
    waiting = builder.waits_for()
    name = unclear.slot if unclear.slot in waiting else next(iter(waiting), None)
    return builder.script.slots[name] if name else None


def _by_digits(builder: TurnBuilder, slot: Slot) -> str:
    number = _example(builder, slot)
    if number is None:
        return hint(builder)
    return builder.wording.say(SystemKey.DIGIT_BY_DIGIT, example=spell_digits(number, builder.wording.language))


def _example(builder: TurnBuilder, slot: Slot) -> float | None:
    """A number that may be an answer: the middle of what is usual, with a decimal where the slot has decimals."""
    match slot.kind:
        case SlotKind.MEASURE | SlotKind.COUNT:
            likely = usual(slot, builder.dialog)
            middle = _middle(builder.wording, slot, likely) if likely and slot.around else None
            return middle if middle is not None else _any_within(slot)
        case SlotKind.SETTING:
            dial = builder.dialog.values.get(slot.dial) if slot.dial else None
            return _middle_of(dial) if isinstance(dial, Dial) and not dial.marks else None
        case SlotKind.CHOICE | SlotKind.TEXT | SlotKind.DIAL:
            return None


def _middle(wording: Wording, slot: Slot, likely: Range) -> float:
    middle = (likely.low + likely.high) / 2
    unit = slot.default.unit(wording.system) if slot.default else None
    if unit and likely.unit:
        middle = Measure(value=middle, unit=likely.unit).to(unit).value
    return int(middle) + 0.5 if slot.decimals else round(middle)


def _middle_of(dial: Dial) -> float:
    steps = round((dial.high - dial.low) / dial.step / 2)
    return dial.low + steps * dial.step


def _any_within(slot: Slot) -> float | None:
    limits = slot.usual or slot.hard
    fitting = [one for one in _EXAMPLES if slot.decimals or one == int(one)]
    return next((one for one in fitting if limits is None or limits.low <= one <= limits.high), None)


# ---------------------------------------------------------------- the reason


def _reason(builder: TurnBuilder, unclear: Unclear) -> str:
    """Why, in other words where the same was said the last times."""
    if unclear.reason is UnclearReason.SEVERAL_CHOICES and builder.state.misheard < SECOND:
        return builder.wording.say(AnswerKey.UNCLEAR_SEVERAL, choices=unclear.said)
    line, times = _why(builder, unclear), builder.state.misheard
    if unclear.reason is UnclearReason.MISPLACED:
        return line
    if times >= THIRD and not other_words(times) and line in builder.before.splitlines():
        return builder.wording.say(AnswerKey.UNCLEAR_THIRD)
    return line


def _unknown(builder: TurnBuilder, unclear: Unclear) -> str:
    """That it was not understood, with what of it was."""
    heard, slot = _heard_in(unclear.said, builder), _slot(builder, unclear) if builder.state.dialog else None
    if heard and slot is not None and unclear.reason is UnclearReason.MISPLACED:
        return builder.wording.say(SystemKey.UNCLEAR_MISPLACED, what=heard, name=builder.wording.name(slot).lower())
    if heard:
        return builder.wording.say(AnswerKey.UNCLEAR_HEARD, what=heard)
    times = (builder.state.misheard - 1) % THIRD + 1
    if times == THIRD:
        return builder.wording.say(AnswerKey.UNCLEAR_THIRD)
    return builder.wording.say(AnswerKey.UNCLEAR_AGAIN if times == SECOND else SystemKey.UNCLEAR_UNKNOWN_WORDS)


def _why(builder: TurnBuilder, unclear: Unclear) -> str:
    """The reason in the operator's words, with what would be accepted; none where the question alone says it."""
    name = unclear.slot or next(iter(builder.waits_for()), None)
    slot = builder.script.slots[name] if name else None
    match unclear.reason:
        case UnclearReason.NO_SUCH_ROW:
            rows = len(rows_of(builder.script, builder.dialog))
            return builder.wording.say(SystemKey.UNCLEAR_NO_SUCH_ROW, row=str(unclear.row), rows=str(rows))
        case UnclearReason.OUT_OF_RANGE if slot and slot.hard:
            return _range(builder.wording, slot)
        case UnclearReason.NOT_A_CHOICE if slot and slot.options and builder.state.misheard < SECOND:
            options = [button.label for button in builder.wording.options(slot)]
            return builder.wording.say(SystemKey.UNCLEAR_NOT_A_CHOICE, choices=builder.wording.join(options))
        case UnclearReason.NO_SUCH_SETTING if slot and slot.dial:
            dial = builder.dialog.values[slot.dial]
            return builder.wording.say(SystemKey.UNCLEAR_NO_SUCH_SETTING, dial=builder.wording.value(dial, None))
        case UnclearReason.WRONG_UNIT if slot:
            return builder.wording.say(SystemKey.UNCLEAR_WRONG_UNIT, name=builder.wording.name(slot).lower())
        case UnclearReason.NO_VALUE if slot and slot.options:
            return "" if builder.state.misheard < SECOND else _unknown(builder, unclear)
        case UnclearReason.NO_VALUE if builder.activity is not None and unclear.row is not None:
            return builder.wording.say(SystemKey.UNCLEAR_WHAT_OF_ROW, row=str(unclear.row))
        case UnclearReason.NO_VALUE if unclear.row is not None:
            return builder.wording.say(AnswerKey.UNCLEAR_ROW_WITHOUT_VALUE, row=str(unclear.row))
        case UnclearReason.TOO_NOISY | UnclearReason.UNSURE if builder.state.misheard >= SECOND:
            return _unknown(builder, unclear)
        case UnclearReason.UNSURE:
            return builder.wording.say(SystemKey.UNCLEAR_UNSURE, said=unclear.said)
        case UnclearReason.NOTHING_HEARD | UnclearReason.NO_VALUE | UnclearReason.WHICH_ROW | UnclearReason.TOO_NOISY:
            return builder.wording.say(SystemKey(f"unclear_{unclear.reason}"))
        case _:
            return _unknown(builder, unclear)


def _range(wording: Wording, slot: Slot) -> str:
    assert slot.hard is not None
    unit = f" {wording.unit(slot.hard.unit)}" if slot.hard.unit else ""
    return wording.say(
        SystemKey.UNCLEAR_OUT_OF_RANGE,
        name=wording.name(slot),
        low=f"{slot.hard.low:g}{unit}",
        high=f"{slot.hard.high:g}{unit}",
    )


# ---------------------------------------------------------------- what of it has a meaning: rows and amounts


def _heard_in(said: str, builder: TurnBuilder) -> str:
    """Rows and amounts in a text, as they are told; empty where there are none, or more than anybody wants to hear."""
    if len(said) > MOST_CHARACTERS or said.endswith("…"):
        return ""
    language = builder.state.language
    expected = Expectation(language=language, rows=_rows(builder))
    hearing = MatchContext(said, expected, load_vocabulary(language))
    found = list(dict.fromkeys(_found(hearing, builder))) if len(hearing.tokens) <= MOST_TOKENS else []
    return ", ".join(found) if len(found) <= MOST_NAMED else ""


def _rows(builder: TurnBuilder) -> int | None:
    dialog = builder.state.dialog
    count = _told_rows(builder) if dialog is not None else builder.state.book.of(Role.ROWS)
    return count if isinstance(count, int) and count else None


def _told_rows(builder: TurnBuilder) -> Value | None:
    """How many rows this dialog counts, or was told."""
    name = name_in(builder.script.records, Role.ROWS)
    return row_count(builder.script, builder.dialog) or (builder.dialog.values.get(name) if name else None)


def _found(hearing: MatchContext, builder: TurnBuilder) -> Iterator[str]:
    place = 0
    while place < len(hearing.tokens):
        rows = _rows_at(hearing, place)
        amounts = [(end, amount) for end, amount in hearing.amounts(place) if _is_told(hearing, place, amount)]
        if rows:
            place, row = max(rows)
            if row in hearing.every_row:
                yield builder.wording.row_names([row])
        elif amounts:
            place, amount = max(amounts, key=lambda one: one[0])
            yield " ".join(_amount(builder, amount))
        else:
            place += 1


def _rows_at(hearing: MatchContext, place: int) -> list[tuple[int, int]]:
    """The rows that the words there may be, each with where it ends; those of the planter where there are any."""
    rows = [
        (match.end, one.value)
        for match in hearing.matcher.rule("row", place)
        for one in match.captures
        if isinstance(one.value, int)
    ]
    return [one for one in rows if one[1] in hearing.every_row] or rows


def _is_told(hearing: MatchContext, place: int, amount: Amount) -> bool:
    """Whether a number was meant: the word for one, or for a half, stands in much talk."""
    if any(numeral.unsaid or not LEAST <= numeral.value <= MOST for numeral, _ in amount.parts):
        return False
    bare = all(unit is None for _, unit in amount.parts)
    return not bare or hearing.tokens[place].is_number or all(numeral.value >= 2 for numeral, _ in amount.parts)


def _amount(builder: TurnBuilder, amount: Amount) -> Iterator[str]:
    for numeral, unit in amount.parts:
        number = float(numeral.value)
        yield builder.wording.amount(Measure(value=number, unit=unit)) if unit else f"{number:g}"
