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


def obey(walk: TurnBuilder, commanded: Commanded) -> None:
    """Do what a command says; the prompt that follows comes from where the dialog then stands."""
    match commanded.command:
        case Command.LANGUAGE:
            walk.add(Switched(language=commanded.language))
            walk.say(SystemKey.SWITCHED_LANGUAGE)
        case Command.US_UNITS | Command.METRIC_UNITS:
            _switch(walk, commanded.command)
        case Command.HELP:
            _help(walk)
        case Command.STATUS:
            _status(walk)
        case Command.RESUME | Command.REPEAT:
            _repeat(walk, resumed=commanded.command is Command.RESUME)
        case Command.BACK | Command.SCRATCH | Command.SKIP | Command.CANCEL | Command.DONE | Command.STOP_HERE:
            if walk.state.dialog is not None:
                _inside(walk, commanded)
            elif commanded.command not in (Command.BACK, Command.SCRATCH) or not take_back_repair(walk):
                nothing_open(walk)
        case _:
            assert_never(commanded.command)


def _inside(walk: TurnBuilder, commanded: Commanded) -> None:
    match commanded.command:
        case Command.BACK | Command.SCRATCH:
            scratch(walk, commanded)
        case Command.SKIP:
            _skip(walk, commanded.row)
        case Command.CANCEL:
            walk.questions.insert(0, Question(about=QuestionKind.CANCEL))
        case Command.DONE:
            _done(walk)
        case Command.STOP_HERE:
            stop_here(walk)
        case _:
            raise ValueError(commanded.command)


def nothing_open(walk: TurnBuilder) -> None:
    walk.say(SystemKey.NOTHING_OPEN, dialogs=openings(walk.library, walk.wording))


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


def open_dialog(walk: TurnBuilder, opened: Opened) -> None:
    """Start a dialog; another one in progress is left only after a yes."""
    if walk.state.dialog is None:
        start(walk, opened.dialog)
    elif walk.dialog.dialog == opened.dialog:
        walk.say(SystemKey.GOES_ON)
    elif _comes_too_early(walk.state.book, walk.library.scripts[opened.dialog]):
        _say_otherwise(walk, opened.dialog)
    else:
        walk.questions.insert(0, Question(about=QuestionKind.LEAVE, dialog=opened.dialog))


def start(walk: TurnBuilder, dialog: str) -> None:
    """Begin a dialog with what earlier ones left and the settings give."""
    script = walk.library.scripts[dialog]
    book = walk.state.book
    if _comes_too_early(book, script):
        _say_otherwise(walk, dialog)
        return
    asked = about(walk, script) if script.phase is Phase.RECORD else None
    if script.phase is Phase.RECORD and asked is None:
        return
    left = left_before(script, book, walk.now)
    pinned = walk.library.hashes[dialog]
    walk.add(Started(dialog=dialog, script=pinned, phase=script.phase, records=script.records))
    walk.add(asked or taken(script, book, walk.presets, left))
    if left is not None:
        walk.say(
            SystemKey.AS_LEFT, time=walk.wording.clock(left.at, walk.now), what=as_left(script, walk.wording, left)
        )
    fill_all(walk)
    walk.lines += told_at_start(walk, script)
    walk.questions = []
    walk.go_on(0)


def _comes_too_early(book: Book, script: Script) -> bool:
    """Whether what a dialog takes from the one before it is not known yet."""
    left = {*book.values, *book.rows}
    missing = any(left_as(name, script, book.roles, left) not in left for name in script.takes)
    return script.otherwise is not None and script.after is not None and (missing or script.after not in book.finished)


def _say_otherwise(walk: TurnBuilder, dialog: str) -> None:
    otherwise = walk.library.scripts[dialog].otherwise
    assert otherwise is not None
    walk.lines.append(otherwise.of(walk.state.language))


def leave(walk: TurnBuilder, to_return: bool = False) -> None:
    """Leave a dialog before its end; ``to_return`` where it is left for another one."""
    script, activity = walk.script, walk.activity if walk.dialog.activity else None
    found = walk.dialog.of(Role.CONDITION) if script.phase is Phase.READINESS else None
    left = Cancelled(dialog=walk.dialog.dialog, phase=walk.dialog.phase)
    if activity is not None:
        left = activity.leave(walk, to_return)
        note_leaving(walk, left)
    walk.add(left)
    walk.questions = []
    note_found(walk, found if isinstance(found, dict) else {})
    if activity is not None and to_return:
        walk.say(SystemKey.LEFT_FOR, word=script.opening(walk.state.language))
    else:
        walk.say(SystemKey.CANCELLED, dialog=title(script, walk.wording))


# ---------------------------------------------------------------- going on


def may_be_declined(walk: TurnBuilder) -> bool:
    """Whether a no to the open question leaves it out: one value that need not be told."""
    slot = walk.script.slots[walk.waits_for()[0]] if walk.waits_for() else None
    return slot is not None and slot.optional and not slot.per_row


def _skip(walk: TurnBuilder, row: int | None) -> None:
    waiting = walk.waits_for()
    if not waiting:
        walk.say(SystemKey.NEEDS_NO_ANSWER)
        return
    name = waiting[0]
    slot = walk.script.slots[name]
    if not slot.optional:
        walk.say(SystemKey.CANNOT_SKIP, name=walk.wording.name(slot).lower())
        return
    rows = open_rows(walk.script, walk.dialog, name)
    if row is not None and row not in rows_of(walk.script, walk.dialog):
        walk.say(SystemKey.UNCLEAR_NO_SUCH_ROW, row=str(row), rows=str(len(rows_of(walk.script, walk.dialog))))
        return
    which = (row or rows[0]) if slot.per_row else None
    walk.add(Skipped(slot=name, row=which, run=walk.dialog.run))
    walk.say(SystemKey.SKIPPED, place=place(walk.script, walk.wording, name, which))


def _done(walk: TurnBuilder) -> None:
    waiting = walk.waits_for()
    if walk.questions:
        _say_how_to_answer(walk)
    elif not waiting:
        walk.say(SystemKey.NEEDS_NO_ANSWER)
    elif walk.script.slots[waiting[0]].per_row:
        rows = open_rows(walk.script, walk.dialog, waiting[0])
        walk.say(SystemKey.ROWS_OPEN, rows=walk.wording.row_names(rows))
    else:
        walk.say(SystemKey.SLOT_OPEN, name=walk.wording.name(walk.script.slots[waiting[0]]))


# ---------------------------------------------------------------- telling


def _switch(walk: TurnBuilder, command: Command) -> None:
    metric = command is Command.METRIC_UNITS
    walk.add(Switched(system=System.METRIC if metric else System.US))
    walk.say(SystemKey.SWITCHED_UNITS, value=walk.wording.say(SystemKey.METRIC_UNITS if metric else SystemKey.US_UNITS))


def _help(walk: TurnBuilder) -> None:
    if walk.state.dialog is None:
        walk.say(SystemKey.HELP_IDLE, dialogs=openings(walk.library, walk.wording))
    elif walk.questions:
        _say_how_to_answer(walk)
    else:
        walk.say(SystemKey.HELP, hint=hint(walk))


def _say_how_to_answer(walk: TurnBuilder) -> None:
    walk.say(
        SystemKey.HELP_CHOOSE
        if walk.questions[0].about in (QuestionKind.CHOICE, QuestionKind.WAY)
        else SystemKey.HELP_ANSWER
    )


def hint(walk: TurnBuilder) -> str:
    """What can be answered here, as the dialog says it."""
    waiting = walk.waits_for()
    slot = walk.script.slots[waiting[0]] if waiting else None
    if slot is None and walk.activity is not None:
        return walk.activity.hint(walk.wording)
    if slot is None or slot.hint is None:
        return ""
    return fill(slot.hint, walk.script, walk.wording, walk.dialog.values, run=str(walk.dialog.run))


def _repeat(walk: TurnBuilder, resumed: bool) -> None:
    """Say the last reply again, whole; what is asked at its end is asked again as after every reply."""
    if walk.before and not resumed:
        lines = walk.before.splitlines()
        walk.lines += lines if walk.state.dialog is None else lines[:-1]
        return
    if walk.state.dialog is None:
        walk.say(SystemKey.WELCOME, dialogs=openings(walk.library, walk.wording))
        return
    if resumed:
        walk.say(SystemKey.RESUMED, dialog=title(walk.script, walk.wording))
    for told in walk.dialog.told:
        step = walk.script.step(told.step)
        if not resumed or not isinstance(step, Say):
            walk.lines += walk.texts(step, told.run)


def _status(walk: TurnBuilder) -> None:
    if walk.state.dialog is None:
        known = _known(walk)
        walk.say(SystemKey.STATUS_IDLE, known=known) if known else nothing_open(walk)
        return
    if walk.activity is not None:
        walk.activity.status(walk)
        return
    walk.say(SystemKey.STATUS, dialog=title(walk.script, walk.wording), progress=_progress(walk))


def _progress(walk: TurnBuilder) -> str:
    here = next(iter(asks(walk.script.step(walk.dialog.step))), None)
    if here is not None and walk.script.slots[here].per_row:
        everything = rows_of(walk.script, walk.dialog)
        done = len(everything) - len(open_rows(walk.script, walk.dialog, here))
        return walk.wording.say(
            SystemKey.PROGRESS_ROWS, run=str(walk.dialog.run), done=str(done), all=str(len(everything))
        )
    answered = sum(name in walk.dialog.values for name in walk.script.slots)
    return walk.wording.say(SystemKey.PROGRESS_SLOTS, done=str(answered))


def _known(walk: TurnBuilder) -> str:
    """Name and value of what finished dialogs left for others to take, in the operator's units."""
    wanted = {name for script in walk.library.scripts.values() for name in script.takes}
    parts: dict[str, str] = {}
    for dialog, digest in walk.state.book.finished.items():
        script = walk.library.script(digest) or walk.library.scripts.get(dialog)
        for name in (*script.slots, *script.results) if script else ():
            value, of = walk.state.book.values.get(name), described(script, name) if script else None
            if name in wanted and of is not None and value is not None and not isinstance(value, str):
                parts.setdefault(name, f"{walk.wording.name(of).lower()} {walk.wording.value(value, of)}")
    return ", ".join(parts.values())
