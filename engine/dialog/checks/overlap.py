"""Words that would mean two things at once: openings of dialogs, options of a slot, names of slots."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from engine.data.definitions import Place
from engine.data.texts import Words
from engine.dialog.schema.script import Script
from engine.dialog.schema.script_fault import ScriptFault
from engine.dialog.schema.slot import Slot
from engine.messages import LANGUAGES

Called = tuple[str, Words, Place]


def dialog_faults(script: Script, earlier: Sequence[Script]) -> Iterator[ScriptFault]:
    """A name or opening words that an earlier dialog has already."""
    if any(other.dialog == script.dialog for other in earlier):
        yield ScriptFault(("dialog",), f"two dialogs are called {script.dialog}", "give one of them another name")
    known = [(other.dialog, other.opens, ("opens",)) for other in earlier]
    yield from _shared((script.dialog, script.opens, ("opens",)), known)


def slot_faults(script: Script) -> Iterator[ScriptFault]:
    """Words that two slots are called by, or that two options of a slot share."""
    called = [(name, slot.called, ("slots", name, "called")) for name, slot in script.slots.items() if slot.called]
    yield from _among([(name, words, place) for name, words, place in called if words])
    for name, slot in script.slots.items():
        yield from _among(_options(slot, ("slots", name, "options")))


def _options(slot: Slot, place: Place) -> list[Called]:
    return [(key, option.words, (*place, key, "words")) for key, option in slot.options.items()]


def _among(all_called: Sequence[Called]) -> Iterator[ScriptFault]:
    for number, called in enumerate(all_called):
        yield from _shared(called, all_called[:number])


def _shared(called: Called, known: Iterable[Called]) -> Iterator[ScriptFault]:
    _, words, place = called
    for language in LANGUAGES:
        taken = {_plain(word): name for name, other, _ in known for word in other.of(language)}
        for number, word in enumerate(words.of(language)):
            if _plain(word) in taken:
                wrong = f"{word!r} already means {taken[_plain(word)]}"
                yield ScriptFault((*place, language, number), wrong, "use other words for one of them")


def _plain(words: str) -> str:
    return " ".join(words.split()).casefold()
