"""What may be said now, for the Tab key: closed answers, reports, commands, and what opens a dialog."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document

from engine.data.forms import Forms
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Asking, Expectation

_PATTERN = re.compile(r"[\[\]()|<>+]")


def sayings(expected: Expectation, vocabulary: Vocabulary, forms: Forms) -> tuple[str, ...]:
    """Whole lines that may be said now, what is asked for first; each once."""
    commands = (phrases for _, phrases in vocabulary.orders.values())
    reports = (vocabulary.reports[report] for report in expected.reports)
    found = (
        *_closed(expected, forms),
        *(plain for phrases in (*reports, *commands) for plain in _plain(phrases)),
        *(words[0] for words in expected.dialogs.values()),
    )
    return tuple(dict.fromkeys(found))


def _closed(expected: Expectation, forms: Forms) -> Iterator[str]:
    """The closed answers to what is asked."""
    match expected.asking:
        case Asking.CONFIRM:
            yield from (forms.answers.yes.lower(), forms.answers.no.lower())
        case Asking.CHOOSE:
            yield from forms.order[: len(expected.candidates)]
        case Asking.SLOT:
            yield from (option.words[0] for option in expected.slots[0].options)
            yield from expected.slots[0].names
        case Asking.NOTHING | Asking.REPORT:
            return


def _plain(phrases: Phrases) -> Iterator[str]:
    """The first of some phrases that is words alone."""
    yield from [phrase.say for phrase in phrases if not _PATTERN.search(phrase.say)][:1]


class SayingCompleter(Completer):
    """Completes the whole line to something that may be said now; ``now`` gives all of it."""

    def __init__(self, now: Callable[[], Iterable[str]]) -> None:
        self._now = now

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterator[Completion]:  # noqa: ARG002
        begun = document.text_before_cursor.lstrip()
        for saying in self._now():
            if saying.casefold().startswith(begun.casefold()):
                yield Completion(saying, start_position=-len(begun))
