"""The parts around the loop: texts, meter, devices and their errors, messages that wait to be said."""

from __future__ import annotations

import builtins
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from bot.handsfree.announcements import Announcements
from bot.handsfree.conversation import Conversation, HeardTurn
from bot.handsfree.screen import FLOOR_DB, bar, level_db
from bot.handsfree.sound import DeviceUnknown, Kind, Sound, SoundMissing, listing, portaudio
from bot.handsfree.texts import HandsfreeOrder, HandsfreeTexts
from bot.settings import CONVERSATION
from engine.assistant import Assistant
from engine.database import open_database
from engine.messages import Language
from engine.queues import outbox
from engine.queues.outbox import DeliveryState, Outbox, Outgoing
from engine.queues.outbox_message import TextMessage
from speech import recognizer_choice
from speech.audio import clip
from speech.decoding.grammar import automaton
from speech.endpoint import UtteranceSound
from speech.errors import ModelMissing
from speech.recognizer import Recognizer
from speech.transcript import Transcript, TranscriptWord
from tests.helpers.lessons import tutor

HEADSET = {"index": 1, "name": "USB Headset", "max_input_channels": 1, "max_output_channels": 2}
SPEAKERS = {"index": 2, "name": "Speakers", "max_input_channels": 0, "max_output_channels": 2}
SECOND = clip(np.zeros(16_000), 16_000)


class Heard:
    """A recogniser that hears one text, whatever the sound."""

    name = "heard"

    def __init__(self, text: str, confidence: float = 1.0, talk: float = 0.0) -> None:
        self.text, self.confidence, self.talk = text, confidence, talk

    def transcribe(self, clip: object, language: str, grammar: str) -> Transcript:
        words = tuple(TranscriptWord(word, self.confidence, 0.0, 1.0) for word in self.text.split())
        return Transcript(words, (), self.name, 0.0, talk=self.talk)


def conversation(folder: Path, hears: Recognizer) -> Conversation:
    def of(language: Language) -> Recognizer:
        if language == "es":
            raise ModelMissing(language, "auto", "none here")
        return hears

    record = open_database(str(folder / "a.db"))
    return Conversation(Assistant(record), HandsfreeTexts.load(), of, tutor(folder, record))


def stretch(*words: str, is_cut: bool = False) -> UtteranceSound:
    return UtteranceSound(SECOND, words, is_cut)


def test_other_talk_is_left_alone(tmp_path: Path) -> None:
    talk = conversation(tmp_path, Heard("set up"))
    assert talk.take(stretch(), held=False) is None
    assert talk.prompt() == conversation(tmp_path, Heard("")).prompt()


@pytest.mark.parametrize("text", ["", "eight"])
def test_what_means_nothing_here_and_is_rather_other_talk_is_left_alone(tmp_path: Path, text: str) -> None:
    talk = conversation(tmp_path, Heard(text, 0.2, talk=0.95))
    assert talk.take(stretch("eight"), held=False) is None
    answered = conversation(tmp_path, Heard(text, 0.2, talk=0.6)).take(stretch("eight"), held=False)
    assert isinstance(answered, HeardTurn)


def test_what_means_something_is_answered_though_it_may_be_other_talk(tmp_path: Path) -> None:
    assert isinstance(
        conversation(tmp_path, Heard("set up", talk=0.95)).take(stretch("set", "up"), held=False), HeardTurn
    )


def test_what_has_words_of_the_grammar_is_answered_even_where_it_is_unclear(tmp_path: Path) -> None:
    answer = conversation(tmp_path, Heard("set up")).take(stretch("set", "up"), held=False)
    assert isinstance(answer, HeardTurn)
    assert answer.heard == "set up"
    assert "How many rows?" in answer.reply.text
    unclear = conversation(tmp_path, Heard("")).take(stretch("eight"), held=False)
    assert isinstance(unclear, HeardTurn)
    assert unclear.reply.text


def test_the_short_word_for_the_summary_is_answered(tmp_path: Path) -> None:
    answer = conversation(tmp_path, Heard("summary")).take(stretch("summary"), held=False)
    full = conversation(tmp_path, Heard("what did i do tonight")).take(stretch("what"), held=False)
    assert isinstance(answer, HeardTurn) and isinstance(full, HeardTurn)
    assert (answer.heard, answer.reply.text) == ("summary", full.reply.text)
    assert "summary" in conversation(tmp_path, Heard("")).grammar(held=False)


def test_too_long_is_told_and_nothing_of_it_kept(tmp_path: Path) -> None:
    talk = conversation(tmp_path, Heard("set up"))
    before = talk.prompt()
    answer = talk.take(stretch("row", "one", is_cut=True), held=False)
    assert isinstance(answer, HeardTurn)
    assert "in pieces" in answer.reply.text
    assert talk.prompt() == before


@pytest.mark.parametrize(
    ("text", "held", "taken"),
    [
        ("hold on", False, HandsfreeOrder.HOLD),
        ("go on", True, HandsfreeOrder.GO_ON),
        ("hold on", True, None),
        ("set up", True, None),
    ],
)
def test_orders_to_the_channel(tmp_path: Path, text: str, held: bool, taken: HandsfreeOrder | None) -> None:
    assert conversation(tmp_path, Heard(text)).take(stretch(*text.split()), held) is taken


def test_an_order_heard_badly_is_none(tmp_path: Path) -> None:
    assert conversation(tmp_path, Heard("go on", 0.2)).take(stretch("go", "on"), held=True) is None


def test_while_it_waits_only_go_on_can_be_heard(tmp_path: Path) -> None:
    talk = conversation(tmp_path, Heard(""))
    held, open_ = automaton(talk.grammar(held=True)), automaton(talk.grammar(held=False))
    assert held.accepts(["go", "on"])
    assert not held.accepts(["set", "up"])
    assert open_.accepts(["set", "up"])
    assert open_.accepts(["hold", "on"])


def test_every_english_phrase_can_be_heard_by_the_shipped_model() -> None:
    lexicon = {line.split()[0] for line in (recognizer_choice.SHIPPED / "en" / "lexicon.txt").read_text().splitlines()}
    phrases = [phrase for order in HandsfreeTexts.load().phrases.values() for phrase in order.of("en")]
    assert {word for phrase in phrases for word in phrase.split()} <= lexicon


def test_a_language_without_ears_is_left_again(tmp_path: Path) -> None:
    talk = conversation(tmp_path, Heard("spanish"))
    answer = talk.take(stretch("spanish"), held=False)
    assert isinstance(answer, HeardTurn)
    assert "in English" in answer.reply.text
    assert talk.language == "en"


def test_the_level_is_that_of_the_sound() -> None:
    wave = np.sin(np.linspace(0, 200 * np.pi, 1600)) * 32767
    assert level_db(wave.astype("<i2").tobytes()) == pytest.approx(-3.01, abs=0.05)
    assert level_db(b"\0\0" * 1600) == level_db(b"") == FLOOR_DB


def test_the_bar_is_plain_where_the_terminal_is() -> None:
    assert bar(-30.0, plain=True, width=10) == "[#####.....]  -30 dB"
    assert bar(0.0, plain=False, width=4) == "[████]    0 dB"
    assert bar(-90.0, plain=True, width=4).startswith("[....]")
    assert bar(-12.0, plain=True).isascii()


def card(*devices: dict[str, Any]) -> Sound:
    """A sound card by PortAudio's description alone."""
    module = SimpleNamespace(PortAudioError=OSError)
    full = [{"default_samplerate": 44100.0, **device} for device in devices]

    def query(kind: str | None = None) -> Any:
        able = [device for device in full if kind is None or device[f"max_{kind}_channels"]]
        if kind is not None and not able:
            raise ValueError("none")
        return full if kind is None else able[0]

    module.query_devices = query
    return Sound(module)  # type: ignore[arg-type]


def test_a_device_goes_by_its_number_or_a_part_of_its_name() -> None:
    sound = card(HEADSET, SPEAKERS)
    assert sound.named(Kind.INPUT, "headset").number == 1
    assert sound.named(Kind.OUTPUT, "2").name == "Speakers"
    with pytest.raises(DeviceUnknown, match="no microphone is called 'Speakers'"):
        sound.named(Kind.INPUT, "Speakers")


def test_while_the_chosen_device_is_gone_the_default_stands_in() -> None:
    assert card(HEADSET, SPEAKERS).found(Kind.OUTPUT, "bluetooth") == card(HEADSET).found(Kind.OUTPUT, None)
    assert card(SPEAKERS).found(Kind.INPUT, "headset") is None


def test_devices_are_listed_with_those_in_use() -> None:
    assert listing(card(HEADSET, SPEAKERS))[1] == "     1   1   2  USB Headset  (used as microphone and loudspeaker)"
    assert listing(card()) == ["no sound device was found"]


@pytest.mark.parametrize("why", [ImportError("no module"), OSError("PortAudio library not found")])
def test_what_is_missing_is_one_sentence(monkeypatch: pytest.MonkeyPatch, why: Exception) -> None:
    real = builtins.__import__

    def lacking(name: str, *more: Any, **named: Any) -> ModuleType:
        if name == "sounddevice":
            raise why
        return real(name, *more, **named)

    monkeypatch.setattr(builtins, "__import__", lacking)
    with pytest.raises(SoundMissing, match=r"^hands-free needs .*libportaudio2$"):
        portaudio()


def test_waiting_messages_come_one_by_one_and_are_marked_when_they_were_said(tmp_path: Path) -> None:
    database, ticks = open_database(str(tmp_path / "a.db")), list[int]()
    now = datetime.now(UTC)
    with database.begin() as connection:
        for key in ("first", "second"):
            outbox.put(connection, [Outgoing(key, CONVERSATION, TextMessage(text=key, speech=f"{key}!"), now)])
        outbox.put(connection, [Outgoing("else", "telegram:1", TextMessage(text="not for here"), now)])
    errand = Announcements(Outbox(database), lambda: ticks.append(1))
    first = errand.look(0.0)
    assert first is not None
    assert (first.key, first.reply.text, first.reply.speech) == ("first", "first", "first!")
    assert errand.look(5.0) is None, "the first is not said yet"
    errand.said("first")
    second = errand.look(10.0)
    assert second is not None
    assert second.key == "second"
    errand.said("second")
    assert errand.look(15.0) is None
    states = [Outbox(database).find(key) for key in ("first", "second", "else")]
    assert [one.state for one in states if one] == [DeliveryState.SENT, DeliveryState.SENT, DeliveryState.PENDING]
    assert len(ticks) == 4, "what rings is looked after in between too"
