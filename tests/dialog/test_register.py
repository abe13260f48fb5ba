"""The register: what is known by name, told once and added to."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from engine.dialog.facts.register import Register, kinds
from engine.dialog.schema.slot_roles import Role
from engine.library import load_library

NAMES = st.text("ab cD", min_size=1, max_size=4).filter(str.strip)
VALUES = st.dictionaries(st.sampled_from([Role.CROP, Role.LOCATION]), st.text("xy", min_size=1), max_size=2)


def told(*things: tuple[str, dict[Role, str]]) -> Register:
    register = Register()
    for name, values in things:
        register = register.noting(Role.FIELD, name, values)
    return register


@given(st.lists(st.tuples(NAMES, VALUES), max_size=6), NAMES, VALUES)
def test_what_was_told_last_of_a_thing_stands_and_nothing_else_is_lost(
    before: list[tuple[str, dict[Role, str]]], name: str, values: dict[Role, str]
) -> None:
    register = told(*before)
    after = register.noting(Role.FIELD, name, values)
    found = after.of(Role.FIELD, name.upper())
    assert found is not None and values.items() <= found.values.items()
    known = register.of(Role.FIELD, name)
    assert set(found.values) == set(values) | set(known.values if known else ())
    assert len(after.names(Role.FIELD)) == len(register.names(Role.FIELD)) + (known is None)


@given(st.lists(st.tuples(NAMES, VALUES), min_size=1, max_size=6), NAMES)
def test_a_renamed_thing_keeps_all_that_is_known_of_it(things: list[tuple[str, dict[Role, str]]], to: str) -> None:
    register = told(*things)
    name = things[0][0]
    here, there = register.of(Role.FIELD, name), register.of(Role.FIELD, to)
    assert here is not None
    after = register.renaming(Role.FIELD, name, to)
    found = after.of(Role.FIELD, to)
    assert found is not None
    assert found.values == {**here.values, **(there.values if there else {})}
    same = there is not None and there.name == here.name
    assert after.of(Role.FIELD, name) is None or after.of(Role.FIELD, name) == found
    assert len(after.names(Role.FIELD)) == len(register.names(Role.FIELD)) - (there is not None and not same)


def test_a_name_that_nobody_told_renames_nothing() -> None:
    register = told(("North", {}))
    assert register.renaming(Role.FIELD, "South", "East") == register
    assert register.kinds_of("north") == (Role.FIELD,)
    assert register.kinds_of("South") == ()


def test_the_dialogs_register_what_a_farm_has() -> None:
    found = kinds(load_library().scripts.values())
    assert set(found) == {Role.PRODUCT, Role.FIELD, Role.APPLICATOR, Role.PLANTER, Role.METERS, Role.SCALE}
    assert found[Role.PLANTER] == {Role.ROWS, Role.SPACING, Role.METERS}
    assert found[Role.METERS] == {Role.METER, Role.DIAL, Role.PLANTER}
    assert found[Role.SCALE] == {Role.SCALE_STEP, Role.SCALE_CAPACITY, Role.SCALE_CHECKED}
    assert {Role.REGISTRATION, Role.LABEL_LOW, Role.LABEL_HIGH, Role.SEASON_HIGH, Role.REENTRY} <= found[Role.PRODUCT]
    assert found[Role.FIELD] == {Role.FIELD_AREA, Role.CROP, Role.LOCATION}
