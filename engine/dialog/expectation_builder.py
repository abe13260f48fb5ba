"""What a dialog waits for, as the expectation that guides ears, reader and buttons."""

from __future__ import annotations

from collections.abc import Mapping

from engine.dialog.activity import Activity, Reports
from engine.dialog.facts.events import Kept
from engine.dialog.facts.question import QuestionKind
from engine.dialog.facts.role_values import as_measure
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.facts.waiting import offered_name, open_rows, row_count, waiting
from engine.dialog.reply.sentences import reading_texts, ways_texts
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Script, Watch, asks
from engine.dialog.schema.slot import Shown, Slot
from engine.dialog.schema.slot_roles import Role, role_of
from engine.dialog.script_library import Library
from engine.expectation import Asking, Expectation, ExpectedSlot, Latest, Option, Range, SlotKind
from engine.messages import Language, System
from engine.quantities import UNITS, Measure
from engine.values import Dial, Value


def expectation(
    library: Library, state: ConversationState, wording: Wording, activities: Mapping[str, Activity]
) -> Expectation:
    """What may be said now."""
    dialogs = {name: script.opens.of(state.language) for name, script in library.scripts.items()}
    script = library.script(state.dialog.script) if state.dialog else None
    if state.dialog is None or script is None:
        known_rows = state.book.of(Role.ROWS)
        count = known_rows if isinstance(known_rows, int) else None
        return Expectation(language=state.language, dialogs=dialogs, rows=count)
    dialog = state.dialog
    asked = waiting(script, dialog)
    here = asks(script.step(dialog.step))
    rest = tuple(slot for slot in here if slot not in asked)
    step = script.step(dialog.step)
    watches = isinstance(step, Watch)
    reports = activities[step.watch].expects(script, state) if isinstance(step, Watch) else Reports(())
    told = tuple(name for name in script.slots if name in dialog.values or dialog.rows.get(name))
    anew = (*(script.remembers if watches else told), *_left_open(script, dialog, asked))
    known = tuple(name for name in anew if name not in asked)
    rows = row_count(script, dialog)
    return Expectation(
        language=state.language,
        asking=_asking(dialog, asked, watches),
        slots=tuple(_slot(script, dialog, name, state) for name in (*asked, *rest)),
        known=tuple(_slot(script, dialog, name, state) for name in known if name not in rest),
        rows=rows or None,
        candidates=_candidates(dialog, script, wording),
        ways=tuple(way.name for way in dialog.questions[0].ways) if dialog.questions else (),
        dialogs=dialogs,
        reports=reports.kinds,
        naming=reports.naming if not dialog.questions else None,
        names=dict(reports.names),
        latest=_latest(dialog),
        down=reports.down,
        latest_report=reports.latest if not dialog.questions else None,
        ahead=tuple(_slot(script, dialog, name, state) for name in _ahead(script, dialog, (*asked, *rest))),
        units=_units(script, dialog, state.system),
        elsewhere=_elsewhere(library, script, (*asked, *rest)) if asked and not dialog.questions else (),
    )


def _left_open(script: Script, dialog: DialogState, asked: tuple[str, ...]) -> tuple[str, ...]:
    """What was skipped and can still be told by its name, where all is gone over once more with a yes or no."""
    if not asked or script.slots[asked[0]].kind is not SlotKind.CHOICE or script.registers is None:
        return ()
    skipped = [name for name in script.slots if name in dialog.skipped and name not in dialog.values]
    return tuple(name for name in skipped if script.slots[name].kind is not SlotKind.CHOICE)


def _elsewhere(library: Library, script: Script, here: tuple[str, ...]) -> tuple[str, ...]:
    """The units that the dialogs ask for, but for those of what is open here; while rows are told one after the other
    only those of the same dialog, as each unit more is one that a digit in noise can be taken for."""
    if any(script.slots[name].kind is SlotKind.DIAL for name in here):
        return ()
    own = {unit for name in here for unit in script.slots[name].units}
    by_row = any(script.slots[name].per_row and script.slots[name].kind is SlotKind.MEASURE for name in here)
    units = dict.fromkeys(script.units if by_row else (*script.units, *library.units))
    return tuple(unit for unit in units if unit not in own)


def _ahead(script: Script, dialog: DialogState, here: tuple[str, ...]) -> tuple[str, ...]:
    """The slots of later steps that are open."""
    if dialog.questions or not dialog.step:
        return ()
    later = [name for step in script.steps[script.places[dialog.step] + 1 :] for name in asks(step)]
    return tuple(name for name in dict.fromkeys(later) if name not in here and dialog.is_open(name))


def _latest(dialog: DialogState) -> Latest | None:
    """Where the last value was kept; for several rows at once nowhere, as nobody can tell which is meant."""
    did = dialog.undo[-1].did if dialog.undo else None
    if not isinstance(did, Kept) or did.together:
        return None
    return Latest(slot=did.slot, row=did.row)


USUAL_UNITS = {
    System.US: ("lb", "acre", "mph"),
    System.METRIC: ("kg", "ha", "km/h"),
}


def _units(script: Script, dialog: DialogState, system: System) -> tuple[str, ...]:
    """The units that amounts were told in, in this dialog before those of the system; one a dimension."""
    rows = [value for name in script.slots for value in dialog.rows.get(name, {}).values()]
    values = [dialog.values[name] for name in script.slots if name in dialog.values]
    told = [value.unit for value in (*rows, *values) if isinstance(value, Measure)]
    first = {UNITS[unit].dimension: unit for unit in (*USUAL_UNITS[system], *told)}
    return tuple(first.values())


def _candidates(dialog: DialogState, script: Script, wording: Wording) -> tuple[str, ...]:
    """What there is to choose from, or the one thing that is doubtful."""
    asked = dialog.questions[0] if dialog.questions else None
    if asked is None:
        return ()
    if asked.ways:
        return ways_texts(asked, wording)
    texts = reading_texts(asked, script, wording)
    return texts if asked.about is QuestionKind.CHOICE else texts[:1]


def _asking(dialog: DialogState, asked: tuple[str, ...], watches: bool) -> Asking:
    if dialog.questions:
        return Asking.CHOOSE if dialog.questions[0].about in (QuestionKind.CHOICE, QuestionKind.WAY) else Asking.CONFIRM
    if watches:
        return Asking.REPORT
    return Asking.SLOT if asked else Asking.NOTHING


def _slot(script: Script, dialog: DialogState, name: str, state: ConversationState) -> ExpectedSlot:
    slot = script.slots[name]
    rows = open_rows(script, dialog, name) if slot.per_row else ()
    dial = dialog.values.get(slot.dial) if slot.dial else None
    return ExpectedSlot(
        name=name,
        kind=slot.kind,
        called=slot.called.of(state.language) if slot.called else (),
        declined=slot.declined.of(state.language) if slot.declined else (),
        dimensions=slot.dimension,
        units=slot.units,
        default_unit=_default_unit(dialog, name, slot.default, state.system),
        decimals=slot.decimals,
        hard=slot.hard,
        usual=usual(slot, dialog),
        options=_options(slot, state.language),
        dial=dial if isinstance(dial, Dial) else None,
        per_row=slot.per_row,
        open_rows=rows,
        next_row=_next_row(dialog, name, rows),
        next_rows=_next_rows(dialog, name),
        role=role_of(script.records, name),
        names=_names(script, name, state) if slot.kind is SlotKind.TEXT else (),
        offered=offered_name(script, dialog) if name in asks(script.step(dialog.step)) else None,
        any_words=slot.any_words,
        told={} if slot.kind is SlotKind.CHOICE and slot.per_row else _told(dialog, name),
        mark=_read_in(Role.TUBE_STEP, script, dialog, name),
        step=_read_in(Role.SCALE_STEP, script, dialog, name),
    )


def _names(script: Script, name: str, state: ConversationState) -> tuple[str, ...]:
    """The names that were given for a slot before, and those of its kind in the register; any to be renamed."""
    register, kind = state.book.things, role_of(script.records, name)
    renamed = script.renames is not None and name == script.renames.old
    listed = [one for of in (register.entries if renamed else (kind,)) if of for one in register.names(of)]
    return tuple(dict.fromkeys((*state.book.names.get(name, ()), *listed)))


_READ_IN_STEPS = {Role.TUBE_STEP: Role.CATCH_VOLUME, Role.SCALE_STEP: Role.CATCH_MASS}


def _read_in(step: Role, script: Script, dialog: DialogState, name: str) -> Measure | None:
    """How finely a catch is read, where this slot is one: between two marks of the tube, or by the scale."""
    return as_measure(dialog.of(step)) if role_of(script.records, name) is _READ_IN_STEPS[step] else None


def _told(dialog: DialogState, name: str) -> dict[int, Value]:
    """The values of rows that stand, or the single one as that of row 0."""
    single = dialog.values.get(name)
    return dict(dialog.rows.get(name, {})) if single is None else {0: single}


def _next_rows(dialog: DialogState, slot: str) -> tuple[int, ...]:
    """The rows a bare value belongs to where one question is about several."""
    readings = dialog.questions[0].readings if dialog.questions else ()
    found = {
        tuple(one.row for one in reading.givens if one.row is not None and one.slot == slot) for reading in readings
    }
    rows = found.pop() if len(found) == 1 else ()
    return rows if len(rows) > 1 else ()


def _next_row(dialog: DialogState, slot: str, rows: tuple[int, ...]) -> int | None:
    """The row a bare value belongs to: the one that is doubtful, else the first that is open."""
    doubtful = dialog.questions[0].readings[0].givens[0] if dialog.questions and dialog.questions[0].readings else None
    if doubtful is not None and doubtful.slot == slot and doubtful.row is not None:
        return doubtful.row
    return rows[0] if rows else None


def _default_unit(dialog: DialogState, name: str, default: Shown | None, system: System) -> str | None:
    """The unit of a bare number: the one this slot was last answered in, else the system's own."""
    if default is None:
        return None
    earlier: list[Value] = [value for rows in dialog.every_run(name) for value in rows.values()]
    last = dialog.values.get(name) or (earlier[-1] if earlier else None)
    return last.unit if isinstance(last, Measure) else default.unit(system)


def usual(slot: Slot, dialog: DialogState) -> Range | None:
    """The range outside which a value is asked about: around a value where that is known, else the slot's own."""
    around = dialog.values.get(slot.around.value) if slot.around else None
    if slot.around is None or not isinstance(around, Measure) or around.dimension not in slot.dimension:
        return slot.usual
    plus = dialog.values.get(slot.around.plus) if slot.around.plus else None
    more = plus.to(around.unit).value if isinstance(plus, Measure) else 0.0
    spread = around.value * slot.around.within
    return Range(low=max(around.value - spread, 0) + more, high=around.value + spread + more, unit=around.unit)


def _options(slot: Slot, language: Language) -> tuple[Option, ...]:
    if slot.kind is not SlotKind.CHOICE:
        return ()
    return tuple(
        Option(key=key, label=choice.label.of(language), words=choice.words.of(language))
        for key, choice in slot.options.items()
    )
