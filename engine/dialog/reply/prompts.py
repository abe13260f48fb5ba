"""The question at the end of a reply, and its buttons: made anew from the state each time."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from engine.dialog.activity import Activity
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.facts.state import DialogState
from engine.dialog.facts.waiting import offered, offered_name, open_rows, rows_of, waiting
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import fill, question, reading_texts, title, ways_texts
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Ask, Collect, Script, asks
from engine.dialog.schema.slot import Slot
from engine.expectation import SlotKind
from engine.messages import Button
from engine.values import Dial

ASKED_OTHERWISE, OFFER_SKIP = 2, 3


def prompt(
    script: Script, dialog: DialogState, wording: Wording, misheard: int, now: datetime, activity: Activity | None
) -> str:
    """What is asked now; empty where nothing is. Every second time in a row that it was ``misheard`` in other words."""
    asked = waiting(script, dialog)
    if not asked:
        text = activity.prompt(dialog, wording, now) if activity and dialog.activity else ""
        return wording.say(AnswerKey.AS_BEFORE, text=text) if text and other_words(misheard) else text
    slot = script.slots[asked[0]]
    step = script.step(dialog.step)
    if isinstance(step, Collect) and step.offered and offered(script, dialog):
        text = fill(step.offered, script, wording, dialog.values, run=str(dialog.run))
        return wording.say(AnswerKey.ONCE_MORE, question=text) if other_words(misheard) else text
    last = offered_name(script, dialog)
    if isinstance(step, Ask) and step.offered and last is not None and not other_words(misheard):
        return fill(step.offered, script, wording, dialog.values, last=last)
    rows = open_rows(script, dialog, asked[0]) if slot.per_row else ()
    if other_words(misheard):
        return _in_other_words(script, wording, asked[0], rows)
    question = fill(slot.ask, script, wording, dialog.values, run=str(dialog.run))
    if not slot.per_row:
        return question
    next_row = wording.say(SystemKey.NEXT_ROW, row=str(rows[0]))
    return next_row if misheard >= ASKED_OTHERWISE or _has_begun(script, dialog) else f"{question} {next_row}"


def other_words(misheard: int) -> bool:
    """Whether what is asked is asked in other words: the second time, the fourth and so on."""
    return misheard >= ASKED_OTHERWISE and misheard % 2 == 0


def _in_other_words(script: Script, wording: Wording, name: str, rows: tuple[int, ...]) -> str:
    """What is needed, by its name, with the answers to choose from where they are closed."""
    slot = script.slots[name]
    what = wording.name(slot)
    if slot.kind is SlotKind.CHOICE:
        words = [button.says for button in wording.options(slot)]
        what = wording.say(SystemKey.ROW_PLACE, row=str(rows[0])) if rows else what
        return wording.say(AnswerKey.NEEDED_CHOICE, what=what, choices=wording.join(words))
    what = wording.say(SystemKey.ROW_PLACE_NAMED, name=what, row=str(rows[0])) if rows else what
    return wording.say(AnswerKey.NEEDED, what=what[0].lower() + what[1:])


def _has_begun(script: Script, dialog: DialogState) -> bool:
    """Whether anything was given at this step in this run."""
    rows = rows_of(script, dialog)
    places = {slot: rows if script.slots[slot].per_row else (None,) for slot in asks(script.step(dialog.step))}
    return any(not dialog.is_open(slot, row) for slot, each in places.items() for row in each)


def asked_question(
    asked: Question, script: Script, dialog: DialogState, wording: Wording, scripts: Mapping[str, Script], misheard: int
) -> str:
    """The words of a question; ``scripts`` are the dialogs for which this one may be left."""
    other = scripts.get(asked.dialog or "")
    if asked.about is QuestionKind.LEAVE and other is not None:
        text = wording.say(SystemKey.LEAVE_SURE, dialog=title(script, wording), other=title(other, wording))
    elif asked.about in (QuestionKind.CANCEL, QuestionKind.LEAVE):
        text = wording.say(SystemKey.CANCEL_SURE, dialog=title(script, wording))
    else:
        text = question(asked, script, wording, dialog)
    return wording.say(AnswerKey.ONCE_MORE, question=text) if other_words(misheard) else text


def buttons(script: Script, dialog: DialogState, wording: Wording, misheard: int) -> tuple[Button, ...]:
    """The closed answers to what is asked now; skip as well where it was ``misheard`` again and again."""
    closed = closed_answers(script, dialog, wording, misheard)
    slot = _asked_slot(script, dialog)
    if misheard < OFFER_SKIP or dialog.questions or slot is None or not slot.optional:
        return closed
    return (*closed, _button(wording.say(SystemKey.SKIP)))


def closed_answers(script: Script, dialog: DialogState, wording: Wording, misheard: int) -> tuple[Button, ...]:
    """Every answer where they are closed, with the words that pressing it says; those of a dial once ``misheard``."""
    if dialog.questions:
        return _question_buttons(dialog.questions[0], script, wording)
    slot = _asked_slot(script, dialog)
    if slot is None:
        return ()
    if offered(script, dialog) or offered_name(script, dialog) is not None:
        return (_button(wording.forms.answers.yes),)
    if slot.kind is SlotKind.CHOICE:
        options = wording.options(slot) if misheard >= ASKED_OTHERWISE or not slot.per_row else ()
        return (*_all_rows(script, dialog, slot, wording), *options)
    dial = dialog.values.get(slot.dial) if slot.dial and misheard >= ASKED_OTHERWISE else None
    return tuple(Button(label=mark, says=mark) for mark in dial.marks) if isinstance(dial, Dial) else ()


def _all_rows(script: Script, dialog: DialogState, slot: Slot, wording: Wording) -> tuple[Button, ...]:
    """The answer that all rows usually get as one button, as long as none has got one."""
    name = waiting(script, dialog)[0]
    if slot.at_once is None or open_rows(script, dialog, name) != rows_of(script, dialog):
        return ()
    usual = slot.options[slot.at_once]
    word = usual.together.of(wording.language) if usual.together else usual.words.of(wording.language)[0]
    says = wording.say(AnswerKey.ALL_SAYS, word=word)
    label = usual.label.of(wording.language)
    return (Button(label=wording.say(AnswerKey.ALL_ROWS, answer=label[0].lower() + label[1:]), says=says),)


def _asked_slot(script: Script, dialog: DialogState) -> Slot | None:
    asked = waiting(script, dialog)
    return script.slots[asked[0]] if asked else None


def _question_buttons(asked: Question, script: Script, wording: Wording) -> tuple[Button, ...]:
    if asked.about not in (QuestionKind.CHOICE, QuestionKind.WAY):
        answers = wording.forms.answers
        return tuple(map(_button, (answers.yes, answers.no)))
    labels = ways_texts(asked, wording) if asked.ways else reading_texts(asked, script, wording)
    says = wording.forms.order
    return tuple(Button(label=label, says=word) for label, word in zip(labels, says, strict=False))


def _button(word: str) -> Button:
    return Button(label=word, says=word.lower())
