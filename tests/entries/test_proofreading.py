"""What is wrong in a vocabulary is told by file and place, and in the one that comes with the package nothing is."""

from __future__ import annotations

import shutil

import pytest

from engine.data.definitions import dialogs_directory
from engine.entries.phrases.pattern import forms, parse_pattern
from engine.entries.phrases.proofreading import problems
from engine.messages import LANGUAGES


@pytest.fixture
def folder(tmp_path):
    for language in LANGUAGES:
        shutil.copytree(dialogs_directory() / language, tmp_path / language)
    return tmp_path


def break_file(folder, language, *edits):
    """Replace pieces of a vocabulary file; the number of the line each stands in."""
    path = folder / language / "vocabulary.yaml"
    text = source = path.read_text(encoding="utf-8")
    for right, wrong in edits:
        assert source.count(right) == 1, right
        assert wrong.count("\n") == right.count("\n")
        text = text.replace(right, wrong)
    path.write_text(text, encoding="utf-8")
    return [source[: source.index(right)].count("\n") + 1 for right, _ in edits]


def test_the_vocabulary_that_comes_with_the_package_is_sound():
    assert problems(dialogs_directory()) == ()


MISTAKES = [
    # takes what means nothing there, or can be said without what it needs
    ("  back: [go back,", "  back: [go <pace>,", "commands.back.0: 'go <pace>': <pace> means nothing here"),
    (
        "    - looks good\n",
        "    - looks good <dose>\n",
        "reports.good.6: 'looks good <dose>': <dose> means nothing here",
    ),
    (
        '["<some> (caught | gave) <weight>"]',
        '["[<some>] (caught | gave) <weight>"]',
        "reports.caught.0: '[<some>] (caught | gave) <weight>' can be said without <row> or <rows> or <some>",
    ),
    (
        '    - "[the] <name> [<link>] <value>"\n',
        '    - "[the] <name> [<link>] [<value>]"\n',
        "given.named.0: '[the] <name> [<link>] [<value>]' can be said without <value>",
    ),
    ('- ["[the] third [one]"]', "- [the <row>]", "answers.chosen.2.0: 'the <row>': <row> means nothing here"),
    # means two things at once
    ("resume: [resume, ", "resume: [undo, ", "commands.resume.0: 'undo' already means commands.scratch"),
    ("taking a break, lunch,", "yep, lunch,", "answers.yes.2: 'yep' already means reports.paused"),
    ('"<some> (is | are) going again"', '"<row> is too full"', "reports.runs.3: '<some> is too full' already means"),
    (
        '"6": [six], "7": [seven], "8": [eight], "9": [nine]}\n',
        '"6": [five], "7": [seven], "8": [eight], "9": [nine]}\n',
        "numbers.words.unit.6.0: 'five' already means 5",
    ),
    ('"60": [an hour]', '"60": [half an hour]', "times.lengths.60.0: 'half an hour' already means 30"),
    # guards nothing
    ("[thirteen, thirty]", "[thirten, thirty]", "sound_alikes.0: 'thirten' is said nowhere"),
]


def test_every_mistake_is_told_once_at_its_line(folder):
    lines = break_file(folder, "en", *((right, wrong) for right, wrong, _ in MISTAKES))
    told = [str(one) for one in problems(folder)]
    for (right, _, says), line in zip(MISTAKES, lines, strict=True):
        (found,) = (one for one in told if says in one)
        assert found.startswith("en/vocabulary.yaml: line ")
        assert found.endswith(")")
        if "already means" not in says:
            assert found.startswith(f"en/vocabulary.yaml: line {line}, {says}"), right
    assert [one for one in told if not any(says in one for *_, says in MISTAKES)] == []


def test_a_file_that_cannot_be_used_is_told_and_the_other_is_still_looked_at(folder):
    (line,) = break_file(folder, "es", ("  - [tres, trece]", "  - [tres, trece, treinta]"))
    break_file(folder, "en", ("[thirteen, thirty]", "[thirten, thirty]"))
    spanish, english = (str(one) for one in problems(folder))
    assert spanish.startswith(f"es/vocabulary.yaml: line {line}, sound_alikes.3: ")
    assert english.endswith("sound_alikes.0: 'thirten' is said nowhere (write it as in the phrases)")


def test_a_language_that_is_missing_is_told(folder):
    (folder / "es" / "vocabulary.yaml").unlink()
    (found,) = problems(folder)
    assert str(found).startswith("es/vocabulary.yaml: whole file: cannot be read")


def test_what_only_one_language_takes_is_told_at_the_other(folder):
    (line,) = break_file(folder, "en", ('"skip <row>", leave it out', "leave it out"))
    (found,) = problems(folder)
    assert found.file == "en/vocabulary.yaml" and found.place == f"line {line}, commands.skip"
    assert found.wrong == "no phrase takes <row>, as in es/vocabulary.yaml"


def test_a_phrase_that_can_be_said_in_countless_ways_is_refused(folder):
    (line,) = break_file(folder, "en", ("    - looks good\n", f"    - '{'[a | b] ' * 40}looks good'\n"))
    (found,) = problems(folder)
    assert str(found).startswith(f"en/vocabulary.yaml: line {line}, reports.good.6: can be said in more than ")


def test_the_forms_of_a_pattern():
    found = [" ".join(form) for form in forms(parse_pattern("[the] (Row | unit) <row_number> (again)+"))]
    assert found == [
        "the row <row_number> again",
        "the unit <row_number> again",
        "row <row_number> again",
        "unit <row_number> again",
    ]
