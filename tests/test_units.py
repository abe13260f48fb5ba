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
from engine.definitions import dialogs_directory
from engine.quantities import UNITS, Dimension, Measure, quantity, unit_called
from engine.units import read_units, tried
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
    ("    shown: {en: lb, es: lb}\n", "", "units.lb", "shown: Field required"),
    ("shown: {en: lb, es: lb}", "shown: {en: lb}", "units.lb.shown", "es: Field required"),
    ("shown: {en: oz, es: oz}", "shown: {en: oz, es: lb}", "units.oz.shown.es", "'lb' is how lb is written"),
    ("said: {en: pounds, es: libras}", "said: {es: libras}", "units.lb.said", "en: Field required"),
    ("said: {en: pounds, es: libras}", "said: {en: '{n} pounds', es: '{n} libras'}", "units.lb.said", "{n}"),
    ("one: {en: one pound, es: una libra}", "one: {en: one pound}", "units.lb.one", "es: Field required"),
    ("      es: [libras, libra]\n", "", "units.lb.words", "es: Field required"),
    ("      en: [pounds, pound]\n", "      en: []\n", "units.lb.words.en", "at least 1"),
    ("      en: [pounds, pound]\n", "      en: [pounds, (pound]\n", "units.lb.words.en.1", "is not closed"),
    ("      en: [pounds, pound]\n", "      en: [<number> pounds]\n", "units.lb.words.en.0", "words alone"),
    ("      en: [ounces, ounce]\n", "      en: [ounces, pound]\n", "units.oz.words.en.1", "already means lb"),
    ("typed: [lbs, pound", "typed: [lbs, oz, pound", "units.oz.typed", "'oz' is lb already"),
    ("  oz:\n", "  lb:\n", "lb", "this key stands twice"),
    ("  oz:\n", "  oz:\n    symbol: ounce\n", "units.oz.symbol", "the name of the entry"),
    ("  oz:\n", "  oz:\n    colour: red\n", "units.oz.colour", "colour: Extra inputs"),
    ('format: "1"', 'format: "2"', "format", "Input should be '1'"),
]


@pytest.mark.parametrize(("old", "new", "place", "wrong"), WRONG, ids=[f"{one[2]}-{one[3]}" for one in WRONG])
def test_a_mistake_is_refused_with_its_place_and_mend(folder: Path, old: str, new: str, place: str, wrong: str) -> None:
    edited(folder / "units.yaml", old, new)
    (found,) = problems(folder)
    assert (found.file, found.place.partition(", ")[2]) == ("units.yaml", place)
    assert found.place.startswith("line ") and wrong in found.wrong and found.mend
    outcome = CliRunner().invoke(app, ["dialogs", "check", str(folder)])
    assert outcome.exit_code == 4 and outcome.stderr == f"{found}\n"


def test_a_filler_is_no_word_for_a_unit(folder: Path) -> None:
    edited(folder / "vocabulary" / "en.yaml", "fillers: [uh,", "fillers: [uh, pound,")
    assert ["'pound' is a filler and a unit" in one.wrong for one in problems(folder)] == [True]


def test_a_unit_that_a_dialog_asks_for_and_nobody_knows_is_refused(folder: Path) -> None:
    edited(folder / "set-up.yaml", "units: [in, cm, ft, m]", "units: [in, cm, ft, m, rod]")
    first = problems(folder)[0]
    assert first.file == "set-up.yaml" and first.place.endswith(", slots.spacing") and "rod" in first.wrong


ROD = """  rod:
    pint: rod = 16.5 * foot
    dimension: length
    system: us
    shown: {en: rods, es: rods}
    said: {en: rods, es: rods}
    words:
      en: [rods, rod]
      es: [rods, rod]
"""


def with_rods(dialogs: Path) -> dict[Path, str]:
    """Follow the recipe for a new unit that is asked for; what each touched file held before."""
    touched = [dialogs / "units.yaml", dialogs / "set-up.yaml"]
    before = {path: path.read_text(encoding="utf-8") for path in touched}
    edited(touched[0], "  mi:\n", f"{ROD}  mi:\n")
    edited(touched[1], "units: [ft, m, yd", "units: [ft, m, yd, rod")
    return before


def test_a_new_unit_takes_one_entry_and_the_list_of_the_slot_that_asks_for_it(folder: Path) -> None:
    assert len(with_rods(folder)) <= 2
    assert problems(folder) == ()


TRY = """
import sys
from datetime import UTC, datetime
from bot.definition_check import problems
from engine.assistant import Assistant
from engine.database import open_database
from engine.definitions import dialogs_directory
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
