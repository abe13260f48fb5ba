"""The extras that the program names are those of the package, and bring the modules that it says."""

from __future__ import annotations

import re
from importlib import metadata

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from bot.extras import INCLUDED, MODULES, Extra, NotInstalled, bringing, install, is_installed, need
from tests.packaging.test_constraints import PROJECT

EXTRAS = PROJECT["project"]["optional-dependencies"]


def test_every_extra_of_the_package_but_that_of_the_tests_is_known() -> None:
    assert {*Extra} == {*EXTRAS} - {"test"} == {*MODULES}


@pytest.mark.parametrize("extra", Extra)
def test_an_extra_brings_along_what_is_said_of_it(extra: Extra) -> None:
    direct = {
        one for text in EXTRAS[extra] if (said := re.fullmatch(r"rowhand\[(.+)\]", text)) for one in said[1].split(",")
    }
    closed = direct | {more for one in direct for more in INCLUDED.get(Extra(one), ())}
    assert closed == {*INCLUDED.get(extra, ())}


@pytest.mark.parametrize("extra", Extra)
def test_the_modules_of_an_extra_come_with_its_packages(extra: Extra) -> None:
    """Of the packages that are installed here; ``tornado`` is of another extra, of the chat's own package."""
    named = {canonicalize_name(Requirement(text).name) for text in EXTRAS[extra]}
    there = metadata.packages_distributions()
    found = {module: {*map(canonicalize_name, there[module])} for module in MODULES[extra] if module in there}
    assert {module for module, by in found.items() if not by & named} <= {"tornado"}
    base = {canonicalize_name(Requirement(text).name) for text in PROJECT["project"]["dependencies"]}
    assert not any(by & base for by in found.values())


def test_a_module_that_is_not_found_is_told_by_its_extra() -> None:
    assert bringing(ModuleNotFoundError(name="telegram.ext")) is Extra.CHAT
    assert bringing(ModuleNotFoundError(name="engine.nothing")) is None
    assert bringing(ModuleNotFoundError()) is None


def test_what_is_needed_and_not_there_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    need(Extra.CHAT)
    monkeypatch.setitem(MODULES, Extra.SPEECH, ("no_such_module_anywhere",))
    assert not is_installed(Extra.CHAT), "an extra lacks what the extras lack that it brings along"
    with pytest.raises(
        NotInstalled, match=r"hearing and speaking need more packages: pip install 'rowhand\[speech\]'$"
    ):
        need(Extra.SPEECH)
    assert install(Extra.SOUND) == "pip install 'rowhand[sound]'"
