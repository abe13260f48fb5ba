"""Laws of every conversation, whatever is said in it.

``ROWHAND_EXAMPLES`` is the number of conversations tried for each law.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import open_database
from engine.dialog.facts.fold import fold
from engine.dialog.facts.question import QuestionKind
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter, Turn
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.facts import read_fact, write_fact
from engine.history.store.journal import StoredTurn
from engine.messages import LANGUAGES, Utterance
from engine.quantities import Measure
from engine.values import Value
from tests.helpers.talking import START, beginnings, library

EXAMPLES = int(os.environ.get("ROWHAND_EXAMPLES", "10"))
OURS = settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
PLACES: dict[str, tuple[str, ...]] = {
    "nothing": (),
    "labelled": ("labelled",),
    "catching": ("prepared", "catching"),
    "caught": ("prepared", "catching", "caught"),
    "wide": ("wide",),
    "tubes": ("tubes",),
    "pesando": ("preparada", "pesando"),
    "planting": ("prepared", "catching", "finished", "planting"),
    "sembrando": ("preparada", "pesando", "terminada", "sembrando"),
}
SPANISH_PLACES = {"pesando", "sembrando"}
ENGLISH = (
    "set up", "test run", "eight", "skip", "skip row two", "scratch that", "go back", "repeat", "status", "help",
    "resume", "cancel", "yes", "no", "first", "the second", "done", "enough", "once more", "scale", "tube", "metric",
    "us units", "all at twelve", "all at ninety", "row two thirteen", "correct the setting of row two",
    "correct row two", "correct", "row one seventy nine", "row two was eighty one", "row three forty grams",
    "row four three grams", "row nine fifty", "row twenty two fifty",
    "row two eighty, row five seventy nine, row one ninety", "seventy nine", "two point eight oz", "forty one seconds",
    "thirty seconds", "correct the time", "time was forty", "thirty inches", "spacing is thirty eight",
    "correct the spacing", "correct the rate", "lowest label rate is eleven pounds an acre", "two pounds an acre",
    "ten pounds an acre", "five", "five pounds an acre", "four oz per thousand feet", "five miles an hour", "zero",
    "three hundred feet", "zero to thirty by one", "thirty to zero by one", "a, b, c",
    "point eight grams a milliliter", "one gram", "what is the target", "how much for forty acres",
    "when do i run out", "last catch of row two", "setting of row two", "emergency", "minus four", "row zero", "row",
    "row row row", "0", "1e9", "999999999 grams", "row one " * 60, "nan", "inf grams",
    "shift", "all on", "all forty pounds", "eighty acres", "all good",
    "row five is high", "five and seven high, rest good", "row five stopped", "row five runs again", "row three half",
    "row two twelve pounds left", "all empty", "refilled all, lot 4 4 7, two bags", "row three refilled ten pounds",
    "refilled", "one acre done", "twelve acres done", "lunch", "planting again", "go on", "hand over to Maria",
    "end of shift", "we're down to four miles an hour", "rate is nine pounds an acre", "rate is ninety pounds an acre",
    "new lot 4 5 8", "another product", "ten more minutes", "later", "row five caught seventy nine grams",
)  # fmt: skip
SPANISH = (
    "español", "english", "preparar", "prueba", "ocho", "salta", "borra eso", "atrás", "repite", "estado", "ayuda",
    "sí", "cancela", "la primera", "listo", "basta", "otra vuelta", "báscula", "tubo", "métrico", "todos en doce",
    "cero", "corrige el surco dos", "surco uno ochenta y seis", "surco dos era ochenta y uno",
    "surco veintidós cincuenta", "cuarenta y cinco segundos", "treinta pulgadas", "dos libras por acre",
    "diez kilos por hectárea", "cien metros", "surco tres setenta y nueve punto cinco, surco uno ochenta",
    "cero a treinta de uno en uno", "un gramo", "turno", "todo bien", "surco cinco está alto", "surco cinco se paró",
    "surco cinco ya tira otra vez", "llené todos, dos bolsas", "a comer", "seguimos sembrando", "fin de turno",
    "diez minutos más", "bajamos a seis kilómetros por hora", "doce acres sembrados", "todos a la mitad",
)  # fmt: skip
SAID = st.one_of(
    st.sampled_from(ENGLISH),
    st.sampled_from(ENGLISH),
    st.sampled_from(SPANISH),
    st.tuples(st.sampled_from(ENGLISH + SPANISH), st.sampled_from(ENGLISH + SPANISH)).map(", ".join),
    st.text(max_size=40),
)
TALKS = st.tuples(st.sampled_from(sorted(PLACES)), st.lists(SAID, min_size=1, max_size=10))


@cache
def interpreter() -> Interpreter:
    rules = ConversationDefaults()
    return Interpreter(library(), rules.presets, {"emergency": "1", "poison": "2", "spill": "3"}, rules.activities)


@dataclass
class Pure:
    """A conversation without a database."""

    state: ConversationState = field(default_factory=lambda: ConversationState(language="en"))
    said: int = 0

    def say(self, text: str) -> Turn:
        self.said += 1
        expected = interpreter().expectation(self.state)
        heard = utterance(f"u{self.said}", text, self.state)
        turn = interpreter().take(self.state, read(heard, expected, load_vocabulary(expected.language)), heard.said_at)
        self.state = turn.state
        return turn

    def say_all(self, texts: Sequence[str]) -> None:
        for text in texts:
            self.say(text)


def utterance(name: str, text: str, state: ConversationState) -> Utterance:
    moment = START + timedelta(minutes=int(name[1:]))
    return Utterance(id=name, conversation="c", text=text, language=state.language, said_at=moment)


@cache
def beginning(place: str) -> ConversationState:
    talk = Pure()
    if place in SPANISH_PLACES:
        talk.say("español")
    for name in PLACES[place]:
        talk.say_all(beginnings()[name])
    return talk.state


# ---------------------------------------------------------------- an operator who answers what is asked

ANSWERS = {
    "rows": "4", "spacing": "30 in", "dial": "0 to 30 by 1", "label_low": "2 lb/acre", "speed": "5 mph",
    "course": "300 ft", "tare": "0 g", "scale_step": "1 g", "density": "0.8 g/mL", "planned": "5 mph",
    "field_area": "80 acre", "bag": "50 lb", "pass_length": "1300 ft", "capacity": "50 lb",
    "willing": "5 acre", "longest": "90 min", "passes": "4", "tube_step": "1 mL",
}  # fmt: skip
SPANISH_ANSWERS = {**ANSWERS, "dial": "cero a treinta de uno en uno", "course": "300 pies"}


def answer(state: ConversationState) -> str:
    """What brings the dialog on, taken from what is expected."""
    expected, dialog = interpreter().expectation(state), state.dialog
    spanish = state.language == "es"
    assert dialog is not None
    if expected.asking is Asking.CHOOSE:
        return "primero" if spanish else "first"
    if expected.asking is Asking.CONFIRM:
        staying = dialog.questions[0].about in (QuestionKind.CANCEL, QuestionKind.LEAVE)
        return "no" if staying else ("sí" if spanish else "yes")
    if expected.asking is Asking.REPORT:
        return "fin de turno" if spanish else "end of shift"
    assert expected.asking is Asking.SLOT
    return answer_slot(expected.slots[0], dialog.values, spanish)


def answer_slot(slot: ExpectedSlot, values: dict[str, Value], spanish: bool) -> str:
    if slot.kind is SlotKind.TEXT:
        return "salta" if spanish else "skip"
    if slot.name == "in_use":
        return "todos prendidos" if spanish else "all on"
    if slot.kind is SlotKind.CHOICE:
        return next((option for option in slot.options if option.key == "enough"), slot.options[0]).words[0]
    if slot.kind is SlotKind.SETTING:
        assert slot.dial is not None
        return f"{'surco' if spanish else 'row'} {slot.next_row} {slot.dial.setting(10).label}"
    if slot.name in ("rate", "label_high"):
        low = values["label_low"]
        assert isinstance(low, Measure)
        return f"{low.value:g} {low.unit}"
    if slot.name == "loaded":
        return f"{'surco' if spanish else 'row'} {slot.next_row} 40 lb"
    if slot.per_row:
        return caught(slot, values, "surco" if spanish else "row")
    if slot.name == "course_time":
        seconds = drive_time(values)
        return f"{seconds:.1f} s"
    return (SPANISH_ANSWERS if spanish else ANSWERS)[slot.name]


def caught(slot: ExpectedSlot, values: dict[str, Value], row: str) -> str:
    target, tare, density = (values.get(name) for name in ("target", "tare", "density"))
    assert isinstance(target, Measure)
    if slot.name == "catch_volume":
        assert isinstance(density, Measure)
        amount = f"{target.to('g').value / density.to('g/mL').value:.1f} mL"
    else:
        amount = f"{target.to('g').value + (tare.to('g').value if isinstance(tare, Measure) else 0):.1f} g"
    return ", ".join(f"{row} {number} {amount}" for number in slot.open_rows[:12])


def drive_time(values: dict[str, Value]) -> float:
    course, speed = values["course"], values["speed"]
    assert isinstance(course, Measure)
    assert isinstance(speed, Measure)
    return course.to("m").value / speed.to("m/s").value


def finish(talk: Pure) -> list[str]:
    """Answer until no dialog is open; the texts said."""
    said: list[str] = []
    while talk.state.dialog is not None:
        said.append(answer(talk.state))
        assert len(said) < 80, said[-12:]
        talk.say(said[-1])
    return said


# ---------------------------------------------------------------- the laws


@OURS
@given(TALKS)
def test_whatever_is_said_is_answered_and_can_be_gone_on_with(talk: tuple[str, list[str]]) -> None:
    place, texts = talk
    pure = Pure(beginning(place))
    for text in texts:
        before = pure.state
        turn = pure.say(text)
        assert turn.reply.text.strip()
        assert turn.reply.speech.strip()
        assert fold(before, [read_fact(json.loads(json.dumps(write_fact(fact)))) for fact in turn.facts]) == turn.state
        can_be_answered(turn)
    finish(pure)
    assert pure.state.dialog is None


def can_be_answered(turn: Turn) -> None:
    """Either nothing is open, or the reply ends with a prompt that the expectation answers."""
    expected = interpreter().expectation(turn.state)
    if turn.state.dialog is None:
        assert expected.asking is Asking.NOTHING
        return
    assert expected.asking is not Asking.NOTHING
    assert bool(expected.slots) or expected.asking is not Asking.SLOT
    assert len(expected.candidates) > 1 or expected.asking is not Asking.CHOOSE
    assert turn.reply.text.endswith(interpreter().prompt(turn.state).text)


@OURS
@given(TALKS)
def test_the_same_words_give_the_same_turn(talk: tuple[str, list[str]]) -> None:
    place, texts = talk
    first, second = (
        Pure(beginning(place)),
        Pure(ConversationState.model_validate_json(beginning(place).model_dump_json())),
    )
    assert [first.say(text) for text in texts] == [second.say(text) for text in texts]


@settings(OURS, max_examples=max(EXAMPLES // 3, 4))
@given(TALKS)
def test_the_record_is_the_state_and_a_second_delivery_is_nothing(talk: tuple[str, list[str]]) -> None:
    place, texts = talk
    with TemporaryDirectory() as folder:
        first, second = assistant(folder), assistant(folder)
        hear(first, 0, "preparar" if place in SPANISH_PLACES else "set up")
        for number, text in enumerate(texts, 1):
            said = hear(first if number % 2 else second, number, text)
            state = first.state("c")
            assert assistant(folder).state("c") == state == second.state("c")
            assert hear(second, number, "something else") == said
            assert hear(first, max(number - 3, 0), text).seq == max(number - 3, 0) + 1
            assert first.state("c") == state


def assistant(folder: str) -> Assistant:
    return Assistant(open_database(str(Path(folder) / "a.db")), None, library())


def hear(one: Assistant, number: int, text: str) -> StoredTurn:
    return one.hear(utterance(f"u{number}", text, one.state("c")))


def test_the_solver_finishes_both_dialogs_in_both_languages() -> None:
    for language in LANGUAGES:
        talk = Pure(ConversationState(language=language))
        talk.say({"en": "set up", "es": "preparar"}[language])
        assert len(finish(talk)) > 10
        talk.say({"en": "test run", "es": "prueba"}[language])
        assert 3 < len(finish(talk)) < 20
        talk.say({"en": "shift", "es": "turno"}[language])
        assert 10 < len(finish(talk)) < 24
        assert set(talk.state.book.finished) == {"set-up", "test-run", "shift"}
