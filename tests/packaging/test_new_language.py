"""A third language by the recipe of DEVELOPERS.md: a folder beside the others, in a copy of the program."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONG = pytest.mark.campaign
TRANSLATED = {
    "forms.yaml": {
        "name: Spanish": "name: Portuguese",
        "own_name: Español": "own_name: Português",
        "called: [español, en español]": "called: [português]",
        '"yes": "Sí", "no": "No"': '"yes": "Sim", "no": "Não"',
        "[uno, dos, tres, cuatro, cinco,": "[um, dois, três, quatro, cinco,",
    },
    "vocabulary.yaml": {
        "language: es\n": "language: pt\n",
        '"8": [ocho]': '"8": [oito]',
        "  es: [español, en español": "  pt: [português, fala português]\n  es: [espanhol, en español",
    },
    "units.yaml": {"said: libras\n": "said: libras (pt)\n"},
    "house.yaml": {
        'switched_language: "Ahora en español."': 'switched_language: "Agora em português."',
        'nothing_open: "No hay diálogo abierto. Diga {dialogs}."': 'nothing_open: "Nada aberto. Diga {dialogs}."',
    },
    "ready-check.yaml": {
        "opens: [revisión, revisar la sembradora]": "opens: [revisão]",
        'ask: "¿Cuántos surcos?"': 'ask: "Quantas linhas?"',
        "name: Surcos\n": "name: Linhas\n",
    },
}
"""What is translated so far: the rest is said in the language that the folder was copied from."""


def begun(folder: Path) -> Path:
    """The copy with the folder of the new language."""
    for room in ("engine", "bot", "speech"):
        (folder / room).symlink_to(ROOT / room)
    shutil.copytree(ROOT / "dialogs", folder / "dialogs")
    shutil.copytree(folder / "dialogs" / "es", folder / "dialogs" / "pt", ignore=shutil.ignore_patterns("meanings.npz"))
    return folder / "dialogs" / "pt"


def translate(place: Path, name: str) -> None:
    text = (place / name).read_text(encoding="utf-8")
    for old, new in TRANSLATED[name].items():
        assert old in text, old
        text = text.replace(old, new)
    (place / name).write_text(text, encoding="utf-8")


def rowhand(folder: Path, *arguments: str, said: str = "") -> subprocess.CompletedProcess[str]:
    """The command line of the copy."""
    code = "import sys; sys.path.insert(0, sys.argv.pop(1)); from bot.cli import main; main()"
    command = [sys.executable, "-c", code, str(folder), *arguments]
    told = {name: value for name, value in os.environ.items() if not name.startswith("ROWHAND_")}
    settings = {**told, "ROWHAND_SETTINGS": str(folder / "none.toml"), "PYTHONPATH": str(folder)}
    return subprocess.run(
        command, cwd=folder, env=settings, input=said, capture_output=True, text=True, check=False, timeout=120
    )


def replies(folder: Path, *said: str, language: str = "pt") -> list[str]:
    place = str(folder / "record.db")
    done = rowhand(folder, "talk", "--json", "--db", place, "--language", language, said="\n".join(said))
    assert done.returncode == 0, done.stderr
    return [json.loads(line)["reply"] for line in done.stdout.splitlines()]


@pytest.fixture
def translated(tmp_path: Path) -> Path:
    place = begun(tmp_path)
    for name in TRANSLATED:
        translate(place, name)
    return tmp_path


@pytest.mark.campaign
def test_a_copied_folder_says_what_is_to_be_done_first(tmp_path: Path) -> None:
    place = begun(tmp_path)
    found = rowhand(tmp_path, "dialogs", "check")
    assert found.returncode == 4 and "pt/vocabulary.yaml: line" in found.stderr
    assert found.stderr.splitlines()[0].endswith("language: is es (write pt, the name of the folder)")
    for name in ("forms.yaml", "vocabulary.yaml"):
        translate(place, name)
    assert rowhand(tmp_path, "dialogs", "check").returncode == 0


def test_a_conversation_is_held_in_it(translated: Path) -> None:
    sound = rowhand(translated, "dialogs", "check")
    assert (sound.returncode, sound.stderr) == (0, "")
    first, opened, rows, english, again = replies(translated, "estado", "revisão", "oito", "english", "português")
    assert first.startswith("Nada aberto. Diga revisão") or "revisão" in first
    assert opened.endswith("Quantas linhas?")
    assert rows.startswith("Linhas: 8.") and "Manguera libre" in rows, "what is not translated is said as it was"
    assert english.startswith("English now.") and "Hose clear" in english
    assert again.startswith("Agora em português.")


@pytest.mark.campaign
def test_it_is_read_strictly_until_its_meanings_are_learned(translated: Path) -> None:
    free = "yo creo que todas se ven bien, nada más la tres trae floja la cadena"
    *_, strict = replies(translated, "revisão", "oito", free)
    assert "¿Surco 1?" in strict, "what no pattern fits is asked again"
    shutil.copy(ROOT / "dialogs" / "es" / "meanings.npz", translated / "dialogs" / "pt")
    *_, freely = replies(translated, "cancelar", "sí", "revisão", "oito", free)
    assert freely != strict


@pytest.mark.campaign
def test_a_conversation_goes_on_in_it_under_a_script_that_knows_it_not(translated: Path) -> None:
    (translated / "dialogs" / "pt").rename(translated / "away")
    assert replies(translated, "ready check", "eight", language="en")[-1].startswith("Rows: 8.")
    (translated / "away").rename(translated / "dialogs" / "pt")
    (told,) = replies(translated, "repite")
    assert "Hose clear" in told, "the script it began under has no text in that language"


@pytest.mark.parametrize(
    ("name", "old", "new", "wrong"),
    [
        pytest.param("house.yaml", '  goes_on: "Seguimos."\n', "", "texts.goes_on: pt is missing", marks=LONG),
        ("ready-check.yaml", '    ask: "Quantas linhas?"\n', "", "slots.rows.ask: ask is missing"),
        pytest.param("ready-check.yaml", "  rows:\n", "  rowss:\n", "slots.rowss: nothing is said", marks=LONG),
        pytest.param("units.yaml", "    shown: lb\n", "", "units.lb.shown: pt is missing", marks=LONG),
        pytest.param("forms.yaml", "through: a\n", "", "through: Field required", marks=LONG),
        pytest.param("vocabulary.yaml", "fillers:", "filers:", "Field required", marks=LONG),
    ],
)
def test_what_it_lacks_is_told_at_its_own_file(translated: Path, name: str, old: str, new: str, wrong: str) -> None:
    path = translated / "dialogs" / "pt" / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    found = rowhand(translated, "dialogs", "check")
    assert found.returncode == 4
    first = found.stderr.splitlines()[0]
    assert first.startswith(f"pt/{name}: line ") and wrong in first, found.stderr
