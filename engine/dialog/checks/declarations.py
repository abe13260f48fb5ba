"""Whether what a dialog says of its names is true and enough for those who read it; words that mean two things at once.

Such words open dialogs, are options of a slot, or names of slots.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from engine.calculations.catalogue import ValueType
from engine.data.definitions import Place
from engine.data.texts import Words
from engine.dialog.facts.register import RESTRICTED_USE
from engine.dialog.schema.script import Ask, Script, Watch
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.dialog.schema.slot_roles import ACTIVITIES, NEEDED, ChosenOption, Requirements, Role, role_of
from engine.expectation import SlotKind
from engine.messages import LANGUAGES

_TUBES = Role.TUBES_CLEANED, Role.TUBES_DISPOSED, Role.TUBES_LATER
OPTIONS = frozenset({Role.MACHINE_DONE, Role.OWN_CONTAINER, Role.LOCKED, *_TUBES})
"""Roles that are a yes or no."""
Called = tuple[str, Words, Place]


def faults(script: Script, types: Mapping[str, ValueType]) -> Iterator[ScriptFault]:
    """Roles that are missing, or held by something else, and activities that nobody knows."""
    for role, meant in script.records.items():
        if isinstance(meant, ChosenOption):
            yield from _option_faults(script, role, meant)
        else:
            yield from _name_faults(role, meant, types)
    yield from _register_faults(script)
    if script.phase:
        yield from _missing(script, NEEDED[script.phase], f"a dialog of the phase {script.phase}", ("phase",))
    restricted = script.slots.get(str(script.records.get(Role.RESTRICTED)))
    if restricted is not None and RESTRICTED_USE not in restricted.options:
        yield ScriptFault(("records", Role.RESTRICTED), f"no option of it is {RESTRICTED_USE}", "call that option so")
    for number, step in enumerate(script.steps):
        if isinstance(step, Watch):
            yield from _watch_faults(script, step.watch, number, types)


def _register_faults(script: Script) -> Iterator[ScriptFault]:
    """A thing is known by a text with a role, and a new name is a text as well."""
    name = script.registers
    if name is not None and (name not in script.slots or script.slots[name].kind is not SlotKind.TEXT):
        yield ScriptFault(
            ("registers",), f"{name} is not a text", nearest(name, script.slots, "name a slot with a text")
        )
    elif name is not None and role_of(script.records, name) is None:
        yield ScriptFault(("registers",), f"{name} has no role", "give it one under records")
    for number, step in enumerate(script.steps):
        asked = script.slots.get(step.ask) if isinstance(step, Ask) and step.known else None
        if asked is not None and not asked.optional:
            yield ScriptFault(
                ("steps", number, "known"), "what is not always asked cannot be needed", "make it optional"
            )
    renamed = {"old": script.renames.old, "new": script.renames.new} if script.renames else {}
    for key, slot in renamed.items():
        if slot not in script.slots or script.slots[slot].kind is not SlotKind.TEXT:
            yield ScriptFault(("renames", key), f"{slot} is not a text", "name a slot with a text")


def _name_faults(role: Role, name: str, types: Mapping[str, ValueType]) -> Iterator[ScriptFault]:
    found, wanted, place = types.get(name), role.held, ("records", role)
    if role in OPTIONS:
        yield ScriptFault(place, f"{role} is an option of a choice", "write {of: slot, is: option}")
    elif found is None:
        yield ScriptFault(place, f"nothing here is called {name}", nearest(name, types, "name a value of this dialog"))
    elif not (found.shape is wanted.shape and wanted.accepts(found)):
        mend = nearest(role, types, "name another value")
        yield ScriptFault(place, f"{role} is {wanted}, but {name} is {found}", mend)


def _option_faults(script: Script, role: Role, meant: ChosenOption) -> Iterator[ScriptFault]:
    slot, place = script.slots.get(meant.of), ("records", role)
    if role not in OPTIONS:
        yield ScriptFault(place, f"{role} is {role.held}, not an option", "name the value that it is")
    elif slot is None or slot.per_row:
        mend = nearest(meant.of, script.slots, "name a slot of this dialog")
        yield ScriptFault((*place, "of"), f"{meant.of} is not a slot with one value", mend)
    elif meant.option not in slot.options:
        mend = nearest(meant.option, slot.options, "name an option of the slot")
        yield ScriptFault((*place, "is"), f"{meant.of} has no option {meant.option}", mend)


def _watch_faults(script: Script, activity: str, number: int, types: Mapping[str, ValueType]) -> Iterator[ScriptFault]:
    asked, place = ACTIVITIES.get(activity), ("steps", number, "watch")
    if asked is None:
        mend = nearest(activity, ACTIVITIES, f"name one of {', '.join(ACTIVITIES)}")
        yield ScriptFault(place, f"there is no activity {activity}", mend)
        return
    yield from _missing(script, asked.needed, f"the activity {activity}", place)
    yield from _word_faults(script, asked, types)


def _missing(script: Script, needed: frozenset[Role], who: str, place: tuple[str | int, ...]) -> Iterator[ScriptFault]:
    for role in sorted(needed - script.records.keys()):
        yield ScriptFault(place, f"{who} needs {role}", f"add {role} to records: {role.held}")


def _word_faults(script: Script, asked: Requirements, types: Mapping[str, ValueType]) -> Iterator[ScriptFault]:
    for role, words in asked.words.items():
        found = types.get(str(script.records.get(role)))
        if found and set(found.words) != words:
            told = ", ".join(sorted(words))
            yield ScriptFault(("records", role), f"{role} has the options {told}", "give the choice these options")


# ---------------------------------------------------------------- words


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
        place = ("slots", name, "options")
        yield from _among([(key, option.words, (*place, key, "words")) for key, option in slot.options.items()])


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
