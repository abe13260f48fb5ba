"""The question at the end of a reply, and its buttons: made anew from the state each time."""

from __future__ import annotations

from engine.dialog.expecting import open_rows, rows_of, waiting
from engine.dialog.house import Key
from engine.dialog.question import About, Question
from engine.dialog.script import Script, asks
from engine.dialog.sentences import fill, question, reading_texts
from engine.dialog.slot import Slot
from engine.dialog.state import DialogState
from engine.dialog.wording import Wording
from engine.expectation import SlotKind
from engine.messages import Button, Language

_YES_NO: dict[Language, tuple[str, str]] = {"en": ("Yes", "No"), "es": ("Sí", "No")}
_ORDER: dict[Language, tuple[str, ...]] = {
    "en": ("first", "second", "third", "fourth"),
    "es": ("primero", "segundo", "tercero", "cuarto"),
}


def prompt(script: Script, dialog: DialogState, wording: Wording) -> str:
    """What is asked now; empty where nothing is."""
    asked = waiting(script, dialog)
    if not asked:
        return ""
    slot = script.slots[asked[0]]
    if not slot.per_row:
        return fill(slot.ask, script, wording, dialog.values, run=str(dialog.run))
    rows = open_rows(script, dialog, asked[0])
    next_row = wording.say(Key.NEXT_ROW, row=str(rows[0]))
    if _has_begun(script, dialog):
        return next_row
    return f"{fill(slot.ask, script, wording, dialog.values, run=str(dialog.run))} {next_row}"


def _has_begun(script: Script, dialog: DialogState) -> bool:
    """Whether anything was given at this step in this run."""
    here = asks(script.steps[script.places[dialog.step]])
    return any(not dialog.is_open(slot, row) for slot in here for row in _places(script, dialog, slot))


def _places(script: Script, dialog: DialogState, slot: str) -> tuple[int | None, ...]:
    return rows_of(script, dialog) if script.slots[slot].per_row else (None,)


def asked_question(
    asked: Question, script: Script, dialog: DialogState, wording: Wording, titles: dict[str, str]
) -> str:
    """The words of a question; ``titles`` are what the dialogs are called."""
    name = titles[dialog.dialog]
    if asked.about is About.CANCEL or (asked.about is About.LEAVE and asked.dialog not in titles):
        return wording.say(Key.CANCEL_SURE, dialog=name)
    if asked.about is About.LEAVE and asked.dialog is not None:
        return wording.say(Key.LEAVE_SURE, dialog=name, other=titles[asked.dialog])
    return question(asked, script, wording, dialog)


def buttons(script: Script, dialog: DialogState, wording: Wording) -> tuple[Button, ...]:
    """The closed answers to what is asked now, each with the words that pressing it says."""
    if dialog.questions:
        return _question_buttons(dialog.questions[0], script, wording)
    asked = waiting(script, dialog)
    slot: Slot | None = script.slots[asked[0]] if asked else None
    return wording.options(slot) if slot and slot.kind is SlotKind.CHOICE and not slot.per_row else ()


def _question_buttons(asked: Question, script: Script, wording: Wording) -> tuple[Button, ...]:
    if asked.about is not About.CHOICE:
        return tuple(Button(label=word, says=word.lower()) for word in _YES_NO[wording.language])
    labels = reading_texts(asked, script, wording)
    says = _ORDER[wording.language]
    return tuple(Button(label=label, says=word) for label, word in zip(labels, says, strict=False))
