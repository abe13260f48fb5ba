"""The ways through a script, and what is known on them."""

from __future__ import annotations

import engine.calculations.formulas  # noqa: F401
from engine.calculations.catalogue import ValueShape, formulas
from engine.dialog.checks.control_flow import known_before, reached, successors
from engine.dialog.schema.script import Script
from engine.dialog.schema.symbol_table import scope, types
from engine.quantities import Dimension, quantity
from tests.helpers.dialogs import draft, edited, source, wrongs


def _script(text: str) -> Script:
    return draft(text, "any.yaml").script


TRIAL = _script(source("trial"))
LATER = _script(source("later"))
ALL = {"trial": TRIAL, "later": LATER}


def _at(name: str) -> int:
    return TRIAL.places[name]


def test_a_branch_leads_to_each_of_its_cases() -> None:
    assert set(successors(TRIAL, 3)) == {_at("talk"), _at("empty")}


def test_a_finish_and_a_redo_lead_nowhere() -> None:
    assert successors(TRIAL, _at("told")) == successors(TRIAL, _at("told") - 1) == ()


def test_every_step_is_reached_from_the_first_and_few_from_the_last() -> None:
    assert reached(TRIAL) == frozenset(range(len(TRIAL.steps)))
    assert reached(TRIAL, _at("moves")) == {_at("moves"), _at("moves") + 1}


def test_what_is_asked_on_one_way_only_may_be_known_but_is_not_given() -> None:
    known = known_before(scope(TRIAL, ALL))[_at("empty")]
    assert {"lanes", "purpose", "tolerance"} == known.given
    assert known.met - known.given == {"remark"}


def test_results_and_rows_are_known_after_their_step() -> None:
    before = known_before(scope(TRIAL, ALL))
    assert {"goal", "scale"} <= before[_at("catches")].given
    assert before[_at("moves")].given - before[_at("catches")].given == {"weight", "place", "verdict", "move", "off"}


def test_what_is_taken_is_known_from_the_start() -> None:
    assert known_before(scope(LATER, ALL))[0].given == {"goal", "lanes", "spacing"}


def _counting(formula: str, given: str, then: str = "") -> str:
    """The later dialog taking what the trial may have left, with one more formula."""
    taking = ("takes: [goal, lanes, spacing]", "takes: [goal, lanes, spacing]\nmay_take: [tolerance, container]")
    step = f"  - collect: weight\n  - compute: {formula}\n    with: {given}\n{then}"
    return edited("later", taking, ("  - collect: weight\n", step))


def test_what_may_be_taken_feeds_optional_arguments() -> None:
    outcomes = "    then: {uniform: next, uneven: next, repair: next}\n"
    assert _wrong(_counting("uniformity", "{caught: weight, allowed: tolerance}", outcomes)) == []


def test_what_may_be_taken_does_not_feed_what_a_formula_needs() -> None:
    found = _wrong(_counting("net-catches", "{gross: weight, tare: container}"))
    assert found == ["container is not known on every way here"]


def _wrong(text: str) -> list[str]:
    return [error.wrong for error in wrongs({"trial.yaml": source("trial"), "later.yaml": text})]


SPEEDS = """
  - ask: first
  - ask: second
  - compute: meter-test
    with: {first_catch: goal, first_speed: first, second_catch: goal, second_speed: second}
    into: {exponent: exponent}
    then: {positive: clear, between: clear, gravity: clear, odd: clear, too_close: WHERE}
  - id: clear
    compute: speed-change
    with: {rate: dose, old_speed: first, new_speed: second, exponent: exponent}
    then: {less: end, same: end, more: end}
  - id: end
    finish"""

PACES = """
  first: &
  second: &
  dose:
    kind: measure
    name: {en: Dose, es: Dosis}
    ask: {en: Dose., es: Dosis.}
    dimension: area_rate
    units: [lb/acre, kg/ha]
    default: {us: lb/acre, metric: kg/ha}
results:""".replace(
    "&",
    """
    kind: measure
    name: {en: Pace, es: Paso}
    ask: {en: Pace., es: Paso.}
    dimension: speed
    units: [mph, km/h]
    default: {us: mph, metric: km/h}""",
)


def _speeds(where: str) -> str:
    edits = ("\nresults:", PACES), ("\n  - finish", "\n  - ask: dose" + SPEEDS.replace("WHERE", where))
    return edited("later", *edits)


def test_a_result_counts_on_the_outcomes_that_have_it() -> None:
    assert _wrong(_speeds("end")) == []


def test_a_result_does_not_count_on_an_outcome_without_it() -> None:
    assert _wrong(_speeds("clear")) == ["exponent is not known on every way here"]


def test_the_catalogue_says_truly_what_the_outcomes_of_the_meter_test_lack() -> None:
    test = formulas()["meter-test"]
    assert test.may_lack("too_close") == {"exponent", "deviation"}
    assert test.may_lack("gravity") == frozenset()
    speeds = {"first_speed": (4.0, 4.0), "second_speed": (4.0, 8.0)}
    for number, outcome in enumerate(("too_close", "positive")):
        given = {name: quantity(pair[number], "mph") for name, pair in speeds.items()}
        found = test.function(first_catch=quantity(50, "g"), second_catch=quantity(50, "g"), **given)
        assert found.outcome == outcome
        assert (found.exponent is None) == ("exponent" in test.may_lack(outcome))


def test_every_name_has_its_type() -> None:
    found = types(TRIAL, ALL)
    assert found["wanted"].dimensions == {Dimension.AREA_RATE, Dimension.ROW_RATE}
    assert found["weight"].shape is ValueShape.ROWS
    assert found["verdict"].words == (
        "on_target",
        "adjust",
        "run_again",
        "closest_notch",
        "cannot_tell",
        "not_sure",
        "doubtful_catch",
        "intermittent",
    )
    assert found["purpose"].words == ("first", "check")
    assert found["remark"].optional
    assert {name: found[name].kind for name in ("lanes", "scale", "place", "goal", "tolerance", "inside")} == {
        "lanes": "count",
        "scale": "dial",
        "place": "setting",
        "goal": "measure",
        "tolerance": "measure",
        "inside": "measure",
    }


def test_a_taken_name_has_the_type_it_had() -> None:
    before, after = types(TRIAL, ALL), types(LATER, ALL)
    assert {name: after[name] for name in LATER.takes} == {name: before[name] for name in LATER.takes}


OPTIONAL = (("optional: false", "optional: true"), ("around: {value: goal,", "around: {value: container,"))


def told_of_around(*edits):
    problems = wrongs({"trial.yaml": edited("trial", *OPTIONAL, *edits)})
    return [str(one) for one in problems if "around" in str(one)]


def test_a_range_around_a_value_that_may_be_missing_needs_one_to_fall_back_on():
    assert len(told_of_around()) == 1
    assert (
        told_of_around(("    per_row: true\n    around", '    per_row: true\n    usual: ["1 oz", "9 oz"]\n    around'))
        == []
    )
