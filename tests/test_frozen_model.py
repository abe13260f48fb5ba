"""Nothing is changed into something that it cannot be."""

from __future__ import annotations

import pytest
from pydantic import BaseModel, RootModel, ValidationError

import bot.cli  # noqa: F401
import engine.assistant  # noqa: F401
from engine.frozen_model import FrozenModel
from engine.quantities import Measure


def test_a_field_that_a_value_does_not_have_is_refused_whenever_it_is_told() -> None:
    mass = Measure(value=1.5, unit="lb")
    assert mass.model_copy(update={"value": 2.0}) == Measure(value=2.0, unit="lb")
    with pytest.raises(ValidationError):
        Measure(value=1.5, unit="lb", vale=2.0)  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="Measure has no unti, vale"):
        mass.model_copy(update={"unit": "kg", "vale": 2.0, "unti": "g"})


def made_of(base: type[BaseModel]) -> set[type[BaseModel]]:
    return {base}.union(*map(made_of, base.__subclasses__()))


def test_everything_that_is_told_stands_on_it() -> None:
    """Settings are read from the environment, and texts by language are a mapping: neither is copied with changes."""
    ours = {one for one in made_of(BaseModel) if one.__module__.startswith(("engine.", "bot."))}
    apart = {one.__name__ for one in ours - made_of(FrozenModel) if not issubclass(one, RootModel)}
    assert len(ours) > 150
    assert apart <= {"Settings"}
