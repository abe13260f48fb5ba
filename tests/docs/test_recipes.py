"""The recipes of DEVELOPERS.md, carried out in a copy of the program, with the files counted that each touches."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from engine.data.languages import LANGUAGES
from tests.docs.examples import ROOT
from tests.helpers.talking import beginnings

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^<!-- (\S+), (at the end|before ([^\n]*)) -->\n```\w+\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Copy:
    """A copy of the program that may be changed; ``touched`` are the files that were."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.touched: set[str] = set()
        for room in ("engine", "bot", "dialogs"):
            shutil.copytree(ROOT / room, folder / room, ignore=shutil.ignore_patterns("__pycache__"))
        (folder / "speech").symlink_to(ROOT / "speech")

    def put(self, name: str, text: str, before: str | None = None) -> None:
        """Write a text into a file before the line that begins so, at its end, or as a new file."""
        path = self.folder / name
        self.touched.add(name)
        old = path.read_text(encoding="utf-8") if path.exists() else ""
        if before is None:
            path.write_text(f"{old}\n\n{text}" if old else text, encoding="utf-8")
            return
        assert old.count(f"\n{before}") == 1, f"{name}: {before}"
        path.write_text(old.replace(f"\n{before}", f"\n{text}{before}"), encoding="utf-8")

    def swap(self, name: str, old: str, new: str) -> None:
        """Put one text in the place of another."""
        path = self.folder / name
        self.touched.add(name)
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{name}: {old}"
        path.write_text(text.replace(old, new), encoding="utf-8")

    def rowhand(self, *arguments: str, said: tuple[str, ...] = ()) -> str:
        """What the copy prints on a command."""
        told = {name: value for name, value in os.environ.items() if not name.startswith("ROWHAND_")}
        done = subprocess.run(
            [sys.executable, "-m", "bot.cli", *arguments],
            cwd=self.folder,
            env={**told, "ROWHAND_SETTINGS": str(self.folder / "none.toml")},
            input="\n".join(said),
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def talk(self, *said: str, language: str = "en") -> str:
        return self.rowhand("talk", "--db", f"{language}.db", "--language", language, said=said)

    def is_sound(self) -> bool:
        return self.rowhand("dialogs", "check").endswith("no problem found\n")


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    return Copy(tmp_path)


def test_a_formula_with_a_question_takes_four_files(copy: Copy) -> None:
    for name, _, before, text in BLOCK.findall(GUIDE):
        copy.put(name, text, before or None)
    assert len(copy.touched) == 2 + len(LANGUAGES) == 4
    assert copy.is_sound()
    english = copy.talk("delivery", "Product A", "447", "forty", "fifty pounds", "four hundred acres")
    assert "How many acres is it for?" in english and "That comes to 5.0 lb/acre." in english
    spanish = copy.talk("entrega", "Producto A", "447", "cuarenta", "cincuenta libras", "400 acres", language="es")
    assert "¿Para cuántos acres es?" in spanish and "Resulta en 5.0 lb/acre." in spanish
    assert copy.rowhand("calc", "delivered-rate", "delivered=2000 lb", "area=400 acre") == "value 5 lb/acre\n"


@pytest.mark.campaign
def test_a_command_that_says_a_text_there_is_takes_four_files(copy: Copy) -> None:
    copy.put("engine/intents.py", '    ROLL_CALL = "roll_call"\n', "    STOP_HERE = ")
    copy.put(
        "engine/dialog/taking/commands.py",
        "        case Command.ROLL_CALL:\n            nothing_open(builder)\n",
        "        case Command.HELP:",
    )
    for language, words in (("en", "roll call"), ("es", "pase de lista")):
        copy.put(f"dialogs/{language}/vocabulary.yaml", f"  roll_call: [{words}]\n", "  us_units: ")
    assert len(copy.touched) == 2 + len(LANGUAGES) == 4
    assert copy.is_sound()
    assert "Nothing is open just now. Say " in copy.talk("roll call")
    assert "Diga" in copy.talk("pase de lista", language="es")


@pytest.mark.campaign
def test_a_text_takes_its_catalogue_who_says_it_and_a_line_in_each_language(copy: Copy) -> None:
    copy.put("engine/dialog/reply/system_texts.py", '    HELLO = "hello", "dialogs"\n', "    WELCOME = ")
    copy.put(
        "engine/dialog/taking/commands.py",
        '    builder.say(SystemKey.HELLO, dialogs="none")\n',
        "    builder.say(SystemKey.NOTHING_OPEN",
    )
    for language, text in (("en", "Hello, {dialogs}."), ("es", "Buenas, {dialogs}.")):
        copy.put(f"dialogs/{language}/house.yaml", f'  hello: "{text}"\n', "  welcome: ")
    assert len(copy.touched) == 2 + len(LANGUAGES)
    assert copy.is_sound()
    assert "Hello, none." in copy.talk("skip")


@pytest.mark.campaign
def test_a_question_takes_its_topic_its_answer_and_its_phrases(copy: Copy) -> None:
    copy.put("engine/intents.py", '    WHO = "who"\n', "    EMERGENCY = ")
    copy.put(
        "engine/dialog/questions/topics.py",
        '        case Topic.WHO:\n            builder.say(SystemKey.WELCOME, dialogs="set up")\n',
        "        case Topic.HOW_MUCH:",
    )
    for language, words in (("en", "who is there"), ("es", "quién anda ahí")):
        copy.put(f"dialogs/{language}/vocabulary.yaml", f"  who: [{words}]\n", "  run_out: ")
    assert len(copy.touched) == 2 + len(LANGUAGES)
    assert copy.is_sound()
    assert "Rowhand here. Say set up." in copy.talk("who is there")


DIALOG = """dialog: washing
format: "2"
opens: ~
about: ~
slots:
  gloves:
    kind: choice
    name: ~
    ask: ~
    options:
      clean: {label: ~, words: ~}
      torn: {label: ~, words: ~}
steps:
  - ask: gloves
  - branch: gloves
    cases: {clean: kept, torn: thrown}
  - id: kept
    finish: ~
  - id: thrown
    finish: ~
"""
TEXTS = """format: "1"
opens: [OPENS]
about: About gloves.
slots:
  gloves:
    name: Gloves
    ask: "ASK"
    options:
      clean: {label: "Yes", words: [clean]}
      torn: {label: "No", words: [torn]}
steps:
  kept:
    finish: "Kept."
  thrown:
    finish: "Thrown away."
"""


@pytest.mark.campaign
def test_a_dialog_takes_its_file_and_its_texts(copy: Copy) -> None:
    copy.put("dialogs/washing.yaml", DIALOG)
    for language, opens in (("en", "wash the gloves"), ("es", "lavar los guantes")):
        copy.put(f"dialogs/{language}/washing.yaml", TEXTS.replace("OPENS", opens).replace("ASK", "Are they clean?"))
    assert len(copy.touched) == 1 + len(LANGUAGES)
    assert copy.is_sound()
    assert copy.talk("wash the gloves", "torn").endswith("> torn\nGloves: No.\nThrown away.\n")


@pytest.mark.campaign
def test_a_report_takes_its_kind_its_handler_and_its_phrases(copy: Copy) -> None:
    copy.put("engine/intents.py", '    WINDY = "windy"\n', "    CLOCK = ")
    copy.put("engine/shift/reports/report.py", "    Report.WINDY: course_of_work.windy,\n", "    Report.LOOKS: ")
    copy.put(
        "engine/shift/reports/course_of_work.py",
        "def windy(turn: ShiftTurn, told: Reported) -> None:\n"
        "    turn.note(told)\n    turn.say(SystemKey.GOES_ON)\n\n\n",
        "def paused(",
    )
    for language, words in (("en", "windy here"), ("es", "hay viento")):
        copy.put(f"dialogs/{language}/vocabulary.yaml", f"  windy: [{words}]\n", "  good:\n")
    assert len(copy.touched) == 3 + len(LANGUAGES)
    assert copy.is_sound()
    night = [line for name in ("prepared", "catching", "finished", "planting") for line in beginnings()[name]]
    assert "> windy here\nGoing on." in copy.talk(*night, "windy here").replace("\n\n", "\n")


@pytest.mark.campaign
def test_a_role_takes_its_name_with_its_type_and_the_dialog_that_holds_it(copy: Copy) -> None:
    copy.put("engine/dialog/schema/slot_roles.py", '    CHECKED = "checked_by_eye"\n', '    TOTAL = "total_applied"')
    copy.put("dialogs/field.yaml", "  checked_by_eye: right\n", "  location: location")
    assert len(copy.touched) == 2
    assert copy.is_sound()
    assert '"checked_by_eye": "right"' in copy.rowhand("talk", "--json", "--db", "r.db", said=("new field",))


STEP = """
def _asked(body: Body) -> Body:
    return {**body, "asked": True} if body.get("kind") == "skipped" else body


STEPS: Mapping[int, Callable[[Body], Body]] = {1: _meaning_declared, 2: _asked}
"""


@pytest.mark.campaign
def test_a_changed_fact_takes_its_class_and_a_step(copy: Copy) -> None:
    copy.talk("set up", "eight", "thirty inches", "zero to thirty by one", "no", "skip")
    copy.put("engine/dialog/facts/events.py", "    asked: bool\n\n\n", "class Withdrawn(Message):")
    copy.swap("engine/facts.py", "FIRST, FORMAT = 1, 2\n", "FIRST, FORMAT = 1, 3\n")
    copy.swap("engine/facts.py", "\nSTEPS: Mapping[int, Callable[[Body], Body]] = {1: _meaning_declared}\n", STEP)
    assert len(copy.touched) == 2
    assert copy.rowhand("record", "check", "--db", "en.db").endswith("all agree\n")
    assert "answers so far: 4." in copy.talk("status")
