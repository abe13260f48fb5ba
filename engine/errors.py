"""What can go wrong inside the engine, as one tree.

::

    RowhandError
    ├── InputError               a value a person gave cannot be used
    │   ├── UnreadableQuantity   "12 furlongs per pint"
    │   ├── WrongDimension       a length where a mass is needed
    │   ├── OutOfDomain          a course of zero feet
    │   └── ArchiveRefused       a file that is no archive of a record, is damaged, or too new
    ├── DefinitionError          a dialog, vocabulary or settings file is wrong (file, place, mend)
    └── WorldError               disk, database or clock failed; nothing was lost
        ├── DatabaseError
        │   ├── NewerDatabase    written by a later version of this program
        │   └── UnreadableFact   a stored fact that is not understood (conversation, turn)
        └── ConflictError        another process moved this conversation on; try again

Every message is one sentence for the person who can act on it; the data stays on the exception.
What an operator says is never an exception: unclear words are an ``Unclear`` entry, see ``engine.messages``.
``speech.errors`` is the same idea for sound, apart because the two rooms do not know each other.
"""

from __future__ import annotations


class RowhandError(Exception):
    """Root of every error the engine raises on purpose."""


class InputError(RowhandError):
    """A value that a person gave cannot be used; the message says why in one sentence."""


class UnreadableQuantity(InputError):
    """Text that is not a number with a known unit."""

    def __init__(self, text: str, why: str = "I need a number and a unit, like 49.5 g") -> None:
        self.text = text
        self.why = why
        super().__init__(f"cannot read {text!r}: {why}")


class WrongDimension(InputError):
    """A quantity of one kind where another kind is needed."""

    def __init__(self, unit: str, expected: str, argument: str | None = None) -> None:
        self.unit = unit
        self.expected = expected
        self.argument = argument
        place = f"{argument}: " if argument else ""
        super().__init__(f"{place}{unit} is not a unit of {expected.replace('_', ' ')}")


class OutOfDomain(InputError):
    """A quantity of the right kind with a value for which the formula has no meaning."""

    def __init__(self, argument: str, value: object, why: str) -> None:
        self.argument = argument
        self.value = value
        self.why = why
        super().__init__(f"{argument.replace('_', ' ')} {value}: {why}")


class ArchiveRefused(InputError):
    """A file from which no record can be taken."""

    def __init__(self, path: str, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"{path} {why}; nothing was taken from it")


class DefinitionError(RowhandError):
    """A definition file is wrong: where, what, and how to mend it."""

    def __init__(self, file: str, place: str, wrong: str, mend: str) -> None:
        self.file = file
        self.place = place
        self.wrong = wrong
        self.mend = mend
        super().__init__(f"{file}: {place}: {wrong} ({mend})")


class WorldError(RowhandError):
    """Something outside the program failed; nothing that was kept is lost."""


class DatabaseError(WorldError):
    """The record cannot be read or written."""


class NewerDatabase(DatabaseError):
    """The record was written by a later version of the program."""

    def __init__(self, path: str, found: int, known: int) -> None:
        self.path = path
        self.found = found
        self.known = known
        super().__init__(
            f"{path} was written by a newer Rowhand (format {found}, this one knows {known}): "
            "update the program; the record is untouched"
        )


class UnreadableFact(DatabaseError):
    """A stored fact is of a kind, shape or format that is not known; ``turn`` is where, as far as that is known."""

    def __init__(self, kind: str, format_: object, conversation: str | None = None, turn: int | None = None) -> None:
        self.kind = kind
        self.format = format_
        self.conversation = conversation
        self.turn = turn
        where = f"turn {turn} of {conversation}" if conversation else "a turn"
        super().__init__(
            f"{where} cannot be read: this Rowhand does not understand what it keeps as {kind!r} "
            f"(format {format_}); the newest version may, and the record is untouched"
        )

    def at(self, conversation: str, turn: int) -> UnreadableFact:
        """The same with its place."""
        return UnreadableFact(self.kind, self.format, conversation, turn)


class ConflictError(WorldError):
    """Another process added a turn to this conversation first."""
