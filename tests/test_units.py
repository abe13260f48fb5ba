"""The table of units: one entry a unit, proved at load; what is wrong in it is refused with file, place and mend."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot.cli import app
from bot.definition_check import problems
from engine.data.definitions import dialogs_directory
from engine.data.languages import LANGUAGES
from engine.data.units import read_units, tried
from engine.quantities import UNITS, Dimension, Measure, quantity, unit_called
from tests.helpers.talking import beginnings

ROOT = Path(__file__).parents[1]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "dialogs"
    shutil.copytree(dialogs_directory(), place)
    return place


def edited(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


POUND = "    pint: pound = 453.59237 * gram = lb\n"
WRONG = [
    (POUND, "", "units.lb", "pint: Field required"),
    (POUND, "    pint: pound 453.59237 * gram\n", "units.lb.pint", "pint does not take this"),
    (POUND, "    pint: pood\n", "units.lb.pint", "'pood' is not defined"),
    (POUND, "    pint: pound = 453.59237 * grain\n", "units.lb.pint", "'grain' is not defined"),
    (POUND, "    pint: pound = 0 * gram\n", "units.lb.pint", "has no size"),
    (POUND, "    pint: pound = -1 * gram\n", "units.lb.pint", "has no size"),
    (POUND, "    pint: pound = 453.59237 * meter\n", "units.lb.dimension", "is no mass"),
    ("60 * minute = h", "60 * minute = m", "units.h.pint", "Cannot redefine 'm'"),
    ("    dimension: mass\n", "    dimension: weight\n", "units.lb.dimension", "Input should be"),
    ("    dimension: mass\n", "    dimension: length\n", "units.lb.dimension", "is no length"),
    ("    dimension: mass\n", "", "units.lb", "dimension: Field required"),
    ("    system: us\n", "    system: imperial\n", "units.lb.system", "Input should be"),
    ("signs: [lbs]", "signs: [lbs, oz]", "units.oz", "'oz' is lb already"),
    ("signs: [lbs]", "signs: [lbs, onza]", "units.oz.typed", "'onza' is lb already"),
    ("  oz:\n", "  lb:\n", "lb", "this key stands twice"),
    ("  oz:\n", "  oz:\n    symbol: ounce\n", "units.oz.symbol", "the name of the entry"),
    ("  oz:\n", "  oz:\n    colour: red\n", "units.oz.colour", "colour: Extra inputs"),
    ('format: "1"', 'format: "2"', "format", "Input should be '1'"),
]


@pytest.mark.parametrize(("old", "new", "place", "wrong"), WRONG, ids=[f"{one[2]}-{one[3]}" for one in WRONG])
def test_a_mistake_is_refused_with_its_place_and_mend(folder: Path, old: str, new: str, place: str, wrong: str) -> None:
    edited(folder / "units.yaml", old, new)
    (found,) = problems(folder)
    file = "es/units.yaml" if place.endswith(".typed") else "units.yaml"
    assert (found.file, found.place.partition(", ")[2]) == (file, place)
    assert found.place.startswith("line ") and wrong in found.wrong and found.mend
    outcome = CliRunner().invoke(app, ["dialogs", "check", str(folder)])
    assert outcome.exit_code == 4 and outcome.stderr == f"{found}\n"


SAID_WRONG = [
    ("es", "    shown: lb\n", "", "units.lb.shown", "es is missing"),
    ("es", "    shown: oz\n", "    shown: lb\n", "units.oz.shown", "'lb' is how lb is written"),
    ("en", "    said: pounds\n", "", "units.lb.said", "en is missing"),
    ("en", "    said: pounds\n", "    said: '{n} pounds'\n", "units.lb.said", "{n}"),
    ("es", "    one: una libra\n", "", "units.lb.one", "es is missing"),
    ("es", "    words: [libras, libra]\n", "", "units.lb.words", "es is missing"),
    ("en", "    words: [pounds, pound]\n", "    words: []\n", "units.lb.words", "at least 1"),
    ("en", "    words: [pounds, pound]\n", "    words: [pounds, (pound]\n", "units.lb.words.1", "is not closed"),
    ("en", "    words: [pounds, pound]\n", "    words: [<number> pounds]\n", "units.lb.words.0", "words alone"),
    ("en", "    words: [ounces, ounce]\n", "    words: [ounces, pound]\n", "units.oz.words.1", "already means lb"),
    ("en", "  oz:\n", "  ozz:\n", "units.ozz", "ozz is no unit"),
    ("en", "  oz:\n", "  oz:\n    system: us\n", "units.oz.system", "the same in every language"),
    ("en", "  oz:\n", "  oz:\n    colour: red\n", "units.oz.colour", "colour: Extra inputs"),
    ("es", 'format: "1"', 'format: "2"', "format", 'Input should be "1"'),
]


@pytest.mark.parametrize(
    ("language", "old", "new", "place", "wrong"), SAID_WRONG, ids=[f"{one[3]}-{one[4]}" for one in SAID_WRONG]
)
def test_a_mistake_in_the_words_is_refused_at_the_file_of_its_language(
    folder: Path, language: str, old: str, new: str, place: str, wrong: str
) -> None:
    edited(folder / language / "units.yaml", old, new)
    (found,) = problems(folder)
    assert (found.file, found.place.partition(", ")[2]) == (f"{language}/units.yaml", place)
    assert found.place.startswith("line ") and wrong in found.wrong and found.mend


def test_a_filler_is_no_word_for_a_unit(folder: Path) -> None:
    edited(folder / "en" / "vocabulary.yaml", "fillers: [uh,", "fillers: [uh, pound,")
    assert ["'pound' is a filler and a unit" in one.wrong for one in problems(folder)] == [True]


def test_a_unit_that_a_dialog_asks_for_and_nobody_knows_is_refused(folder: Path) -> None:
    edited(folder / "set-up.yaml", "units: [in, cm, ft, m]", "units: [in, cm, ft, m, rod]")
    first = problems(folder)[0]
    assert first.file == "set-up.yaml" and first.place.endswith(", slots.spacing") and "rod" in first.wrong


ROD = """  rod:
    pint: rod = 16.5 * foot
    dimension: length
    system: us
"""
RODS = """  rod:
    shown: rods
    said: rods
    words: [rods, rod]
"""


def with_rods(dialogs: Path) -> dict[Path, str]:
    """Follow the recipe for a new unit that is asked for; what each touched file held before."""
    words = [dialogs / language / "units.yaml" for language in LANGUAGES]
    touched = [dialogs / "units.yaml", dialogs / "set-up.yaml", *words]
    before = {path: path.read_text(encoding="utf-8") for path in touched}
    edited(touched[0], "  mi:\n", f"{ROD}  mi:\n")
    edited(touched[1], "units: [ft, m, yd", "units: [ft, m, yd, rod")
    for place in words:
        edited(place, "  mi:\n", f"{RODS}  mi:\n")
    return before


def test_a_new_unit_takes_an_entry_its_words_and_the_list_of_the_slot_that_asks_for_it(folder: Path) -> None:
    assert len(with_rods(folder)) <= 2 + len(LANGUAGES)
    assert problems(folder) == ()


TRY = """
import sys
from datetime import UTC, datetime
from bot.definition_check import problems
from engine.assistant import Assistant
from engine.database import open_database
from engine.data.definitions import dialogs_directory
from engine.messages import Utterance
from engine.quantities import read_measure

assert problems(dialogs_directory()) == ()
print(read_measure("20 rod").to("ft").value)
assistant = Assistant(open_database(":memory:"))
for number, text in enumerate(sys.argv[1:]):
    said = Utterance(id=str(number), conversation="c", text=text, language="en", said_at=datetime.now(UTC))
    reply = assistant.hear(said).reply
print(reply.text.splitlines()[0])
print(reply.speech.splitlines()[0])
"""


def test_the_new_unit_is_understood_reckoned_with_shown_and_said(tmp_path: Path) -> None:
    """In a copy of the program, with what a user of it would say."""
    for room in ("engine", "bot", "dialogs"):
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "speech").symlink_to(ROOT / "speech")
    with_rods(tmp_path / "dialogs")
    told = [*beginnings()["prepared"][:-4], "twenty rods"]
    assert beginnings()["prepared"][-4] == "three hundred feet"
    command = [sys.executable, "-c", TRY, *told]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    feet, shown, said = done.stdout.splitlines()
    assert float(feet) == pytest.approx(330)
    assert shown.startswith("Course: 20 rods.")
    assert said.startswith("Course: two zero rods.")


def test_another_folder_is_checked_with_its_own_units_and_leaves_no_trace(folder: Path) -> None:
    with_rods(folder)
    assert problems(folder) == () and "rod" not in UNITS and unit_called("rod") is None
    with tried(read_units(folder)):
        assert UNITS["rod"].dimension is Dimension.LENGTH
        assert Measure(value=2, unit="rod").to("ft").value == pytest.approx(33)
    assert "rod" not in UNITS


def test_every_unit_has_words_and_a_size() -> None:
    assert len(UNITS) > 35
    for symbol in UNITS:
        assert quantity(1, symbol).to_base_units().magnitude > 0
        assert Measure(value=1, unit=symbol).dimension is UNITS[symbol].dimension
