from __future__ import annotations

import csv
import io
from datetime import date, timedelta

import pytest

from engine.dialog.facts.events import Cancelled, Started
from engine.dialog.schema.slot_roles import Phase
from engine.errors import OutOfDomain
from engine.history.application import ApplicationRecord
from engine.history.export import calibration_lines, written
from engine.history.records import calibrations, row_history
from engine.history.store.journal import Journal
from engine.history.store.segments import Ending
from engine.quantities import Measure
from tests.helpers.calibration import TARGET, TURNS, at, calibrate, grams
from tests.helpers.turns import START


def seconds(number: float) -> Measure:
    return Measure(value=number, unit="s")


def minute(number: int) -> object:
    return START + timedelta(minutes=number)


def test_a_calibration_is_what_was_set_caught_and_decided(journal: Journal) -> None:
    calibrate(journal)
    (record,) = calibrations(journal.turns("c1"))
    assert (record.ending, record.rows) == (Ending.FINISHED, (1, 2))
    assert (record.started_at, record.ended_at) == (minute(1), minute(7))
    assert record.values == {"planter": "the blue one", "target": TARGET, "course_time": seconds(44)}
    assert [run.rows for run in record.runs] == [
        {
            "setting": {1: at(12), 2: at(12)},
            "catch": {1: grams(50.0), 2: grams(44.0)},
            "verdict": {1: "on_target", 2: "adjust"},
            "next_setting": {1: at(12), 2: at(13.5)},
        },
        {
            "setting": {1: at(12), 2: at(13.5)},
            "catch": {2: grams(49.0)},
            "verdict": {2: "on_target"},
            "next_setting": {2: at(13.5)},
        },
    ]
    assert [run.when for run in record.runs] == [minute(5), minute(7)]
    assert [run.machine.get("course_time") for run in record.runs] == [seconds(41), seconds(44)]


def test_each_calibration_has_its_own_ending(journal: Journal) -> None:
    calibrate(journal)
    calibrate(journal, turns=(*TURNS[:3], (Cancelled(dialog="test-run"),)))
    calibrate(journal, turns=TURNS[:2])
    calibrate(journal, turns=((Started(dialog="set-up", script="def", phase=Phase.SET_UP),),))
    found = calibrations(journal.turns("c1"))
    assert [record.ending for record in found] == [Ending.FINISHED, Ending.CANCELLED, Ending.CANCELLED]
    assert [len(record.runs) for record in found] == [2, 1, 1]
    assert calibrations(journal.turns("c1"), Phase.SET_UP)[0].ending is Ending.OPEN


def test_nothing_was_calibrated(journal: Journal) -> None:
    assert calibrations(journal.turns("c1")) == ()
    assert written(calibration_lines([])) == ""


def test_every_word_about_a_row_stays_in_sight(journal: Journal) -> None:
    calibrate(journal)
    facts = [(turn.seq, fact) for turn in journal.turns("c1") for fact in turn.facts]
    assert [(seq, fact["kind"]) for seq, fact in facts if (fact.get("slot"), fact.get("row")) == ("catch", 2)] == [
        (3, "kept"),
        (4, "withdrawn"),
        (5, "kept"),
        (7, "kept"),
    ]


def test_a_row_from_one_calibration_to_the_next(journal: Journal) -> None:
    calibrate(journal)
    calibrate(journal, conversation="c2", turns=TURNS[:3])
    records = [*calibrations(journal.turns("c2")), *calibrations(journal.turns("c1"))]
    runs = row_history(records, 2)
    assert [run.get("catch") for run in runs] == [grams(41.0), grams(44.0), grams(49.0)]
    assert row_history(records, 3) == ()


def test_the_record_as_a_table(journal: Journal) -> None:
    calibrate(journal)
    text = written(calibration_lines(calibrations(journal.turns("c1"))))
    lines = list(csv.DictReader(io.StringIO(text)))
    assert text.startswith("planter,dialog,started_at,ended_at,ending,run,run_at,row,setting,catch,catch_unit")
    assert [(line["run"], line["row"], line["catch"], line["verdict"]) for line in lines] == [
        ("1", "1", "50", "on_target"),
        ("1", "2", "44", "adjust"),
        ("2", "1", "", ""),
        ("2", "2", "49", "on_target"),
    ]
    assert {line["machine_target"] + line["machine_target_unit"] for line in lines} == {"49.5g"}
    assert [line["machine_course_time"] for line in lines] == ["41", "41", "44", "44"]
    assert text.split("\r\n")[0].endswith(
        ",machine_target,machine_target_unit,machine_course_time,machine_course_time_unit"
    )
    assert lines[0]["started_at"] == "2026-04-21T22:16:00Z"


@pytest.mark.parametrize("said", ["=1+1", "+1", "-1", "@x"])
def test_words_never_run_in_a_spreadsheet(said: str) -> None:
    (line,) = csv.DictReader(io.StringIO(written([{"said": said, "value": -1.5}])))
    assert line == {"said": f"'{said}", "value": "-1.5"}


COMPLETE = ApplicationRecord(
    product_name="Product A",
    registration_number="0000-000",
    total_applied=Measure(value=350, unit="lb"),
    location="own map, field 4",
    area=Measure(value=40, unit="acre"),
    crop_or_site="corn",
    applied_on=date(2028, 2, 29),
    applicator_name="the applicator",
    certification_number="A-1",
)


def test_the_nine_elements_of_the_application_record() -> None:
    """Elements and terms: 7 CFR 110.3."""
    assert len(ApplicationRecord().missing) == 9
    assert COMPLETE.missing == ()
    assert ApplicationRecord(product_name="  ", crop_or_site="corn").missing[0] == "product_name"
    assert COMPLETE.keep_until == date(2030, 3, 1)
    assert ApplicationRecord(applied_on=date(2026, 4, 21)).keep_until == date(2028, 4, 21)
    assert ApplicationRecord().keep_until is None


@pytest.mark.parametrize(("acres", "spot"), [(0.09, True), (0.1, False), (40.0, False)])
def test_less_than_a_tenth_of_an_acre(acres: float, spot: bool) -> None:
    assert ApplicationRecord(area=Measure(value=acres, unit="acre")).is_spot is spot


def test_an_area_is_no_mass() -> None:
    with pytest.raises(OutOfDomain, match="total applied 40 acre"):
        ApplicationRecord(total_applied=Measure(value=40, unit="acre"))
    with pytest.raises(OutOfDomain, match="area -1 acre"):
        ApplicationRecord(area=Measure(value=-1, unit="acre"))
