"""The commands an operator can give at any moment, the same in every dialog."""

from __future__ import annotations

from typing import assert_never

from engine.dialog.facts.book import Book
from engine.dialog.facts.events import Cancelled, Skipped, Started, Switched
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.facts.waiting import open_rows, rows_of
from engine.dialog.reply.sentences import as_left, fill, place, title
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording, described
from engine.dialog.schema.script import Say, Script, asks
from engine.dialog.schema.slot_roles import BESIDE_THE_JOB, Phase, Role
from engine.dialog.script_library import Library
from engine.dialog.taking.absence import note_found, stop_here, told_at_start
from engine.dialog.taking.application_taking import about
from engine.dialog.taking.correction import scratch
from engine.dialog.taking.repairs import take_back_repair
from engine.dialog.turns.ending import note_leaving
from engine.dialog.turns.opening import left_as, left_before, taken
from engine.dialog.turns.registering import fill_all
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Button, Command, Commanded, Opened, System


def obey(builder: TurnBuilder, commanded: Commanded) -> None:
    """Do what a command says; the prompt that follows comes from where the dialog then stands."""
    match commanded.command:
        case Command.LANGUAGE:
            builder.add(Switched(language=commanded.language))
            builder.say(SystemKey.SWITCHED_LANGUAGE)
        case Command.US_UNITS | Command.METRIC_UNITS:
            _switch(builder, commanded.command)
        case Command.HELP:
            _help(builder)
        case Command.STATUS:
            _status(builder)
        case Command.RESUME | Command.REPEAT:
            _repeat(builder, resumed=commanded.command is Command.RESUME)
        case Command.BACK | Command.SCRATCH | Command.SKIP | Command.CANCEL | Command.DONE | Command.STOP_HERE:
            if builder.state.dialog is not None:
                _inside(builder, commanded)
            elif commanded.command not in (Command.BACK, Command.SCRATCH) or not take_back_repair(builder):
                nothing_open(builder)
        case _:
            assert_never(commanded.command)


def _inside(builder: TurnBuilder, commanded: Commanded) -> None:
    match commanded.command:
        case Command.BACK | Command.SCRATCH:
            scratch(builder, commanded)
        case Command.SKIP:
            _skip(builder, commanded.row)
        case Command.CANCEL:
            builder.questions.insert(0, Question(about=QuestionKind.CANCEL))
        case Command.DONE:
            _done(builder)
        case Command.STOP_HERE:
            stop_here(builder)
        case _:
            raise ValueError(commanded.command)


def nothing_open(builder: TurnBuilder) -> None:
    builder.say(SystemKey.NOTHING_OPEN, dialogs=openings(builder.library, builder.wording))


def openings(library: Library, wording: Wording) -> str:
    """How the dialogs are called: "set up or test run"."""
    return wording.join([f"“{script.opening(wording.language)}”" for script in job(library)])


def job(library: Library) -> tuple[Script, ...]:
    """The dialogs of the work itself, in the order in which they are done."""
    return tuple(script for script in library.in_order if script.phase not in BESIDE_THE_JOB)


def ways(library: Library, book: Book, wording: Wording) -> tuple[Button, ...]:
    """The dialogs of the work that can be opened now as buttons, in front those that follow what was done."""
    can = [script for script in job(library) if not _comes_too_early(book, script)]
    can.sort(key=lambda script: script.after not in book.finished or script.dialog in book.finished)
    return tuple(Button(label=title(one, wording), says=one.opening(wording.language)) for one in can)


# ---------------------------------------------------------------- opening and leaving


def open_dialog(builder: TurnBuilder, opened: Opened) -> None:
    """Start a dialog; another one in progress is left only after a yes."""
    if builder.state.dialog is None:
        start(builder, opened.dialog)
    elif builder.dialog.dialog == opened.dialog:
        builder.say(SystemKey.GOES_ON)
    elif _comes_too_early(builder.state.book, builder.library.scripts[opened.dialog]):
        _say_otherwise(builder, opened.dialog)
    else:
        builder.questions.insert(0, Question(about=QuestionKind.LEAVE, dialog=opened.dialog))


def start(builder: TurnBuilder, dialog: str) -> None:
    """Begin a dialog with what earlier ones left and the settings give."""
    script = builder.library.scripts[dialog]
    book = builder.state.book
    if _comes_too_early(book, script):
        _say_otherwise(builder, dialog)
        return
    asked = about(builder, script) if script.phase is Phase.RECORD else None
    if script.phase is Phase.RECORD and asked is None:
        return
    left = left_before(script, book, builder.now)
    pinned = builder.library.hashes[dialog]
    builder.add(Started(dialog=dialog, script=pinned, phase=script.phase, records=script.records))
    builder.add(asked or taken(script, book, builder.presets, left))
    if left is not None:
        builder.say(
            SystemKey.AS_LEFT,
            time=builder.wording.clock(left.at, builder.now),
            what=as_left(script, builder.wording, left),
        )
    fill_all(builder)
    builder.lines += told_at_start(builder, script)
    builder.questions = []
    builder.go_on(0)


def _comes_too_early(book: Book, script: Script) -> bool:
    """Whether what a dialog takes from the one before it is not known yet."""
    left = {*book.values, *book.rows}
    missing = any(left_as(name, script, book.roles, left) not in left for name in script.takes)
    return script.otherwise is not None and script.after is not None and (missing or script.after not in book.finished)


def _say_otherwise(builder: TurnBuilder, dialog: str) -> None:
    otherwise = builder.library.scripts[dialog].otherwise
    assert otherwise is not None
    builder.lines.append(otherwise.of(builder.state.language))


def leave(builder: TurnBuilder, to_return: bool = False) -> None:
    """Leave a dialog before its end; ``to_return`` where it is left for another one."""
    script, activity = builder.script, builder.activity if builder.dialog.activity else None
    found = builder.dialog.of(Role.CONDITION) if script.phase is Phase.READINESS else None
    left = Cancelled(dialog=builder.dialog.dialog, phase=builder.dialog.phase)
    if activity is not None:
        left = activity.leave(builder, to_return)
        note_leaving(builder, left)
    builder.add(left)
    builder.questions = []
    note_found(builder, found if isinstance(found, dict) else {})
    if activity is not None and to_return:
        builder.say(SystemKey.LEFT_FOR, word=script.opening(builder.state.language))
    else:
        builder.say(SystemKey.CANCELLED, dialog=title(script, builder.wording))


# ---------------------------------------------------------------- going on


def may_be_declined(builder: TurnBuilder) -> bool:
    """Whether a no to the open question leaves it out: one value that need not be told."""
    slot = builder.script.slots[builder.waits_for()[0]] if builder.waits_for() else None
    return slot is not None and slot.optional and not slot.per_row


def _skip(builder: TurnBuilder, row: int | None) -> None:
    waiting = builder.waits_for()
    if not waiting:
        builder.say(SystemKey.NEEDS_NO_ANSWER)
        return
    name = waiting[0]
    slot = builder.script.slots[name]
    if not slot.optional:
        builder.say(SystemKey.CANNOT_SKIP, name=builder.wording.name(slot).lower())
        return
    rows = open_rows(builder.script, builder.dialog, name)
    if row is not None and row not in rows_of(builder.script, builder.dialog):
        builder.say(SystemKey.UNCLEAR_NO_SUCH_ROW, row=str(row), rows=str(len(rows_of(builder.script, builder.dialog))))
        return
    which = (row or rows[0]) if slot.per_row else None
    builder.add(Skipped(slot=name, row=which, run=builder.dialog.run))
    builder.say(SystemKey.SKIPPED, place=place(builder.script, builder.wording, name, which))


def _done(builder: TurnBuilder) -> None:
    waiting = builder.waits_for()
    if builder.questions:
        _say_how_to_answer(builder)
    elif not waiting:
        builder.say(SystemKey.NEEDS_NO_ANSWER)
    elif builder.script.slots[waiting[0]].per_row:
        rows = open_rows(builder.script, builder.dialog, waiting[0])
        builder.say(SystemKey.ROWS_OPEN, rows=builder.wording.row_names(rows))
    else:
        builder.say(SystemKey.SLOT_OPEN, name=builder.wording.name(builder.script.slots[waiting[0]]))


# ---------------------------------------------------------------- telling


def _switch(builder: TurnBuilder, command: Command) -> None:
    metric = command is Command.METRIC_UNITS
    builder.add(Switched(system=System.METRIC if metric else System.US))
    builder.say(
        SystemKey.SWITCHED_UNITS, value=builder.wording.say(SystemKey.METRIC_UNITS if metric else SystemKey.US_UNITS)
    )


def _help(builder: TurnBuilder) -> None:
    if builder.state.dialog is None:
        builder.say(SystemKey.HELP_IDLE, dialogs=openings(builder.library, builder.wording))
    elif builder.questions:
        _say_how_to_answer(builder)
    else:
        builder.say(SystemKey.HELP, hint=hint(builder))


def _say_how_to_answer(builder: TurnBuilder) -> None:
    builder.say(
        SystemKey.HELP_CHOOSE
        if builder.questions[0].about in (QuestionKind.CHOICE, QuestionKind.WAY)
        else SystemKey.HELP_ANSWER
    )


def hint(builder: TurnBuilder) -> str:
    """What can be answered here, as the dialog says it."""
    waiting = builder.waits_for()
    slot = builder.script.slots[waiting[0]] if waiting else None
    if slot is None and builder.activity is not None:
        return builder.activity.hint(builder.wording)
    if slot is None or slot.hint is None:
        return ""
    return fill(slot.hint, builder.script, builder.wording, builder.dialog.values, run=str(builder.dialog.run))


def _repeat(builder: TurnBuilder, resumed: bool) -> None:
    """Say the last reply again, whole; what is asked at its end is asked again as after every reply."""
    if builder.before and not resumed:
        lines = builder.before.splitlines()
        builder.lines += lines if builder.state.dialog is None else lines[:-1]
        return
    if builder.state.dialog is None:
        builder.say(SystemKey.WELCOME, dialogs=openings(builder.library, builder.wording))
        return
    if resumed:
        builder.say(SystemKey.RESUMED, dialog=title(builder.script, builder.wording))
    for told in builder.dialog.told:
        step = builder.script.step(told.step)
        if not resumed or not isinstance(step, Say):
            builder.lines += builder.texts(step, told.run)


def _status(builder: TurnBuilder) -> None:
    if builder.state.dialog is None:
        known = _known(builder)
        builder.say(SystemKey.STATUS_IDLE, known=known) if known else nothing_open(builder)
        return
    if builder.activity is not None:
        builder.activity.status(builder)
        return
    builder.say(SystemKey.STATUS, dialog=title(builder.script, builder.wording), progress=_progress(builder))


def _progress(builder: TurnBuilder) -> str:
    here = next(iter(asks(builder.script.step(builder.dialog.step))), None)
    if here is not None and builder.script.slots[here].per_row:
        everything = rows_of(builder.script, builder.dialog)
        done = len(everything) - len(open_rows(builder.script, builder.dialog, here))
        return builder.wording.say(
            SystemKey.PROGRESS_ROWS, run=str(builder.dialog.run), done=str(done), all=str(len(everything))
        )
    answered = sum(name in builder.dialog.values for name in builder.script.slots)
    return builder.wording.say(SystemKey.PROGRESS_SLOTS, done=str(answered))


def _known(builder: TurnBuilder) -> str:
    """Name and value of what finished dialogs left for others to take, in the operator's units."""
    wanted = {name for script in builder.library.scripts.values() for name in script.takes}
    parts: dict[str, str] = {}
    for dialog, digest in builder.state.book.finished.items():
        script = builder.library.script(digest) or builder.library.scripts.get(dialog)
        for name in (*script.slots, *script.results) if script else ():
            value, of = builder.state.book.values.get(name), described(script, name) if script else None
            if name in wanted and of is not None and value is not None and not isinstance(value, str):
                parts.setdefault(name, f"{builder.wording.name(of).lower()} {builder.wording.value(value, of)}")
    return ", ".join(parts.values())
