from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from engine.data import definitions
from engine.data.definitions import dialogs_directory, parse_definition
from engine.errors import DefinitionError

FILES = sorted(dialogs_directory().rglob("*.yaml"))


@pytest.mark.skipif(not yaml.__with_libyaml__, reason="there is one reader only")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_both_readers_find_the_same_at_the_same_lines(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = path.read_text(encoding="utf-8")
    found = parse_definition(source, path.name)
    monkeypatch.setattr(definitions, "LOADER", yaml.BaseLoader)
    assert definitions.parse_definition(source, path.name) == found


@pytest.mark.parametrize("loader", [yaml.BaseLoader, definitions.LOADER], ids=["python", "used"])
@pytest.mark.parametrize(
    "source", ["a: &x b\nc: *x\n", "a: !!int 3\n", "a: b\n\tc: d\n", "a: [b\n", 'a: "b\n', "a: b: c\n"]
)
def test_what_is_refused_is_refused_by_both(loader: object, source: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(definitions, "LOADER", loader)
    with pytest.raises(DefinitionError):
        definitions.parse_definition(source, "x.yaml")
