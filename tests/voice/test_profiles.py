"""The files of voice profiles: for the user alone, whole after a kill, refused in a sentence where they are none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from bot.voice.profiles import LARGEST_BYTES, ProfileFailed, Profiles
from engine.errors import DefinitionError, InputError
from engine.voice_profile import ConfusionSource

GOOD = """format: "1"
person: Ann
language: en
pairs:
- {said: eight, heard: six, read: 1, corrected: 0}
"""


def test_what_is_counted_is_there_again_and_only_the_user_can_read_it(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path / "profiles")
    profiles.add("Ann Lee", "en", [("eight", "six")], ConfusionSource.READ)
    profiles.add("ann lee", "en", [("eight", "six"), ("thirty", "thirteen")], ConfusionSource.CORRECTED)
    profiles.add("Ann Lee", "es", [("sesenta", "setenta")], ConfusionSource.READ)
    found = profiles.of("Ann Lee", "en")
    assert [(one.said, one.heard, one.read, one.corrected) for one in found.pairs] == [
        ("eight", "six", 1, 1),
        ("thirty", "thirteen", 0, 1),
    ]
    assert [one.language for one in profiles.all()] == ["en", "es"]
    files = sorted((tmp_path / "profiles").iterdir())
    assert [file.name for file in files] == ["ann_lee.en.yaml", "ann_lee.es.yaml"]
    assert {file.stat().st_mode & 0o777 for file in files} == {0o600}
    assert (tmp_path / "profiles").stat().st_mode & 0o777 == 0o700


def test_a_profile_that_was_open_to_others_is_closed_by_the_next_writing(tmp_path: Path) -> None:
    (tmp_path / "ann.en.yaml").write_text(GOOD)
    (tmp_path / "ann.en.yaml").chmod(0o666)
    Profiles(tmp_path).add("Ann", "en", [("two", "three")], ConfusionSource.READ)
    assert (tmp_path / "ann.en.yaml").stat().st_mode & 0o777 == 0o600


def test_forgetting_removes_all_of_one_person_even_what_cannot_be_read(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    for person, language in (("Ann", "en"), ("Ann", "es"), ("Bob", "en")):
        profiles.add(person, language, [("uno", "dos")], ConfusionSource.READ)
    (tmp_path / "ann.es.yaml").write_text("][")
    assert profiles.forget("Ann") == 2
    assert [file.name for file in tmp_path.iterdir()] == ["bob.en.yaml"]
    assert profiles.of("Ann", "en").pairs == ()
    assert profiles.forget("Ann") == 0
    assert profiles.forget("Bob", "es") == 0


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("][", "line 1"),
        ("", "empty"),
        ("- 1", "whole file"),
        (GOOD.replace('"1"', '"2"'), "format"),
        (GOOD.replace("en\n", "xx\n"), "language"),
        (GOOD.replace("Ann", "../../etc"), "person"),
        (GOOD.replace("Ann", "Bob"), "is the profile of Bob"),
        (GOOD.replace("said: eight", "said: six"), "heard as itself"),
        (GOOD.replace("read: 1", "read: 0"), "was never heard"),
        (GOOD.replace("read: 1", "read: -1"), "greater than"),
        (GOOD.replace("read: 1", "read: 99999999999999999999"), "less than"),
        (GOOD.replace("said: eight", 'said: "eight | stop;"'), "plain words"),
        (GOOD.replace("said: eight", f"said: {'a' * 50}"), "40"),
        (GOOD + "- {said: eight, heard: six, read: 1}\n", "stands twice"),
        (GOOD + "command: rm\n", "command"),
        (GOOD + "turns: [u1]\n", "pattern"),
        (GOOD.replace("eight", "!!python/object/apply:os.system [true]"), "tags"),
        ("&a " + GOOD.replace("pairs:", "pairs: *a\nx:"), "aliases"),
        ("[" * 5000, "line|deeply"),
        ("x" * (LARGEST_BYTES + 1), "larger"),
    ],
)
def test_what_is_no_profile_is_refused_in_a_sentence(tmp_path: Path, text: str, why: str) -> None:
    (tmp_path / "ann.en.yaml").write_text(text)
    with pytest.raises(DefinitionError, match=why) as refused:
        Profiles(tmp_path).of("Ann", "en")
    assert "ann.en.yaml" in str(refused.value)
    with pytest.raises(DefinitionError):
        Profiles(tmp_path).add("Ann", "en", [("two", "three")], ConfusionSource.READ)
    assert (tmp_path / "ann.en.yaml").read_text() == text


def test_a_file_that_is_no_text_is_refused_and_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    (tmp_path / "ann.en.yaml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(DefinitionError, match="cannot be read"):
        Profiles(tmp_path).of("Ann", "en")
    os.mkfifo(tmp_path / "bob.en.yaml")
    (tmp_path / "eve.en.yaml").symlink_to(tmp_path / "ann.en.yaml")
    for person in ("Bob", "Eve"):
        with pytest.raises(DefinitionError, match="not a plain file"):
            Profiles(tmp_path).of(person, "en")


@pytest.mark.parametrize("person", ["", "../up", "a/b", ".hidden", "a\nb", "x" * 41, "-rf", "a\0"])
def test_a_name_that_no_file_can_have_is_refused(tmp_path: Path, person: str) -> None:
    with pytest.raises(InputError, match="cannot be the name of a voice"):
        Profiles(tmp_path).of(person, "en")


@pytest.mark.parametrize("person", ["½", "José Á", "x" * 40, "\ufdfa" * 40, "chat 12345"])
def test_any_other_name_stays_inside_the_folder(tmp_path: Path, person: str) -> None:
    profiles = Profiles(tmp_path / "in")
    profiles.add(person, "en", [("eight", "six")], ConfusionSource.READ)
    assert len(list((tmp_path / "in").iterdir())) == 1
    assert len(profiles.of(person, "en").pairs) == 1
    assert profiles.forget(person) == 1


def test_a_folder_that_cannot_be_written_is_told_and_the_old_profile_stays(tmp_path: Path) -> None:
    (tmp_path / "profiles").write_text("in the way")
    with pytest.raises(ProfileFailed, match="cannot be kept"):
        Profiles(tmp_path / "profiles").add("Ann", "en", [("eight", "six")], ConfusionSource.READ)
