"""Sentences as people build them, each for one rule of the reader: what of them is kept, and what is asked."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from bot.bench.judging import CaseOutcome, Grade, judge
from bot.bench.suite import UtteranceCase, load_suite
from bot.bench.suite_stage import SuiteStage
from engine.messages import Reported
from engine.quantities import Measure

UTTERANCES = Path(__file__).parents[1] / "utterances"
RIGHT = {
    "en": [
        {"c": "spacing", "s": "used to be 38 but they're 30 now", "keep": ["spacing 30 in"]},
        {"c": "spacing", "s": "36, no hang on that's the old one. 30", "keep": ["spacing 30 in"]},
        {"c": "capacity", "s": "fifty pounds if you level it off", "keep": ["capacity 50 lb"]},
        {
            "c": "label_low",
            "s": "says 5 to 12 pounds an acre",
            "keep": ["label_low 5 lb/acre", "label_high 12 lb/acre"],
        },
        {"c": "label_high", "s": "wait, low one was 6 not 5", "keep": ["label_low 6 lb/acre"]},
        {"c": "bag", "s": "row 2 only got 25", "keep": ["loaded/2 25 lb"]},
        {"c": "dial", "s": "zero up to 40 by 2s", "keep": ["dial 0 40 2"]},
        {"c": "dial", "s": "0 to 10 with half marks", "keep": ["dial 0 10 0.5"]},
        {"c": "density", "s": "it says 42 lbs/cu ft", "keep": ["density 42 lb/ft³"]},
        {"c": "density", "s": "0.64 grams per ml", "keep": ["density 0.64 g/mL"]},
        {"c": "field", "s": "River Bottom, 62 acres", "keep": ["field River Bottom", "field_area 62 acre"]},
        {"c": "loaded", "s": "25 in 1 to 4 and 30 in 5 to 8", "keep": ["loaded/1-4 25 lb", "loaded/5-8 30 lb"]},
        {"c": "longest", "s": "no", "skip": "longest"},
        {"c": "away", "s": "why 208", "asks": "why"},
        {"c": "shift", "s": "1-4 ok 6 7 ok 8 high", "reports": ["good/1-4,6-7", "high/8"]},
        {"c": "look", "s": "1 2 3 good 4 is high", "reports": ["good/1-3", "high/4"]},
        {"c": "look", "s": "7s bridged over", "report": "stopped/7"},
        {"c": "shift", "s": "seventy acres left and the wind is picking up", "report": "remaining 70 acre"},
        {"c": "shift", "s": "ask me every 45 minutes", "report": "looks 45 min"},
        {"c": "planned", "s": "the lot was 474 not 447", "keep": ["lot 474"]},
        {"c": "in_use", "s": "all but 8, which is off", "keep": ["in_use/1-7 on", "in_use/8 off"]},
        {"c": "field", "s": "mill creek", "keep": ["field mill creek"]},
        {"c": "container", "s": "it was 202, I read the scale wrong", "keep": ["put_back 202 lb"]},
        {"c": "field_area", "s": "80ac and half mile rows", "keep": ["field_area 80 acre", "pass_length 0.5 mi"]},
        {"c": "away", "s": "200 and its all in its own bags", "keep": ["put_back 200 lb", "container own"]},
        {"c": "catch_by", "s": "scale, does 1 gram steps", "keep": ["catch_by weigh", "scale_step 1 g"]},
        {"c": "loaded", "s": "thirty pounds every hopper, 50 lb bags", "keep": ["loaded/1-8 30 lb", "bag 50 lb"]},
        {"c": "planned", "s": "5 mph, field is Miller", "keep": ["planned 5 mph", "field Miller"]},
        {"c": "field_area", "s": "not North field, its South field", "keep": ["field South field"]},
        {"c": "label_low", "s": "that product name is wrong its Product B", "keep": ["product Product B"]},
        {"c": "catch8", "s": "same as 7", "keep": ["catch_mass/8 68 g"]},
        {"c": "dial_setting", "s": "all eight set at fifteen", "keep": ["dial_setting/1-8 15"]},
        {"c": "catch3", "s": "sixtynine", "keep": ["catch_mass/3 69 g"]},
        {"c": "refilled", "s": "that was 25 not 20", "report": "refilled/2 25 lb"},
        {"c": "refilled", "s": "no, it was row 3 I filled", "report": "refilled/3 20 lb"},
        {"c": "stopped", "s": "its not 5 its 6", "report": "stopped/6"},
        {"c": "look", "s": "row six stopped no sorry row seven", "report": "stopped/7"},
        {"c": "shift_begun", "s": "We're in the Miller bottom, not the north field", "report": "field Miller bottom"},
        {"c": "stopped", "s": "cleared 5 but 6 is plugged too", "reports": ["runs/5", "stopped/6"]},
        {"c": "paused", "s": "going again, and Cody's driving", "reports": ["went_on", "handed_over Cody"]},
    ],
    "es": [
        {"c": "dial", "s": "de 0 a 30 de uno en uno", "keep": ["dial 0 30 1"]},
        {"c": "catch8", "s": "el 7 me equivoqué son 63", "keep": ["catch_mass/7 63 g"]},
        {"c": "look", "s": "dos y siete altos, lo demás parejo", "reports": ["high/2,7", "good/1,3-6,8"]},
        {"c": "shift", "s": "recuérdeme cada hora", "report": "looks 60 min"},
        {
            "c": "label_low",
            "s": "dice de 5 a 12 libras el acre",
            "keep": ["label_low 5 lb/acre", "label_high 12 lb/acre"],
        },
        {"c": "stopped", "s": "la 1 y la 2 van bien, la 3 va alta", "reports": ["good/1-2", "high/3"]},
        {"c": "tare", "s": "14 g, y marca de gramo en gramo", "keep": ["tare 14 g", "scale_step 1 g"]},
        {
            "c": "meter",
            "s": "rodillo, y el producto se llama Terravel 15",
            "keep": ["meter positive", "product Terravel 15"],
        },
        {"c": "field_area", "s": "no es Norte, es Norte 2", "keep": ["field Norte 2"]},
        {"c": "catch3", "s": "3 igual que el 1", "keep": ["catch_mass/3 61 g"]},
        {
            "c": "stopped",
            "s": "era la cadena, ya se la puse y jala. los otros andan bien",
            "reports": ["runs/5", "good"],
        },
        {"c": "stopped", "s": "no era el 5 era el 6", "report": "stopped/6"},
        {
            "c": "ended",
            "s": "quedan 8 lb en todas menos el 5 que trae 9",
            "reports": ["left/1-4,6-8 8 lb", "left/5 9 lb"],
        },
    ],
}
NOT_KEPT = {
    "en": [
        {"c": "look", "s": "fine except three is plugged", "report": "good/3"},
        {"c": "refilled", "s": "it wasn't row 2", "report": "stopped/2"},
        {"c": "doubtful", "s": "naw that aint right", "yes": True},
        {"c": "mending", "s": "ain't fixed yet, working on it", "keep": ["mending again"]},
        {"c": "spacing", "s": "thirty inches, grandpa had 38", "keep": ["rows 38"]},
        {"c": "look", "s": "all good but 2 and 3", "report": "good/2-3"},
        {"c": "planned", "s": "4.5, the lot was fine", "keep": ["lot 4.5"]},
        {"c": "scale_step", "s": "it goes by ones, one gram", "keep": ["scale_step 1 g", "density 1 g/mL"]},
        {"c": "look", "s": "row six stopped, no, row seven", "report": "stopped/6"},
        {"c": "look", "s": "5 stopped no sorry 6", "report": "stopped/5"},
        {"c": "look", "s": "number eight hasn't gone down an inch", "report": "lot 8"},
        {"c": "paused", "s": "rolling since 8:05", "report": "speed 8 mph"},
        {"c": "spacing", "s": "76 cm, the bar come over on a boat", "keep": ["spacing 76 cm", "meter between"]},
        {"c": "stopped", "s": "it's feeding after all, I looked at it wrong", "report": "stopped/1-8"},
    ],
    "es": [
        {"c": "dial", "s": "de 0 a 30", "keep": ["dial marks 0,A,30"]},
        {"c": "look", "s": "bien el 1, el 3 no, el 4 bien", "report": "good/3"},
        {"c": "in_use", "s": "todos menos el 8 que lo tengo apagado", "keep": ["in_use/1-7 off"]},
        {"c": "stopped", "s": "todavía no, sigue tapado", "report": "handed_over tapado"},
        {"c": "paused", "s": "le puse 15 libras a la 3 y a la 4", "report": "speed 4 mph"},
        {"c": "course", "s": "100 qqs", "keep": ["course 100 ft"]},
        {"c": "loaded", "s": "media bolsa de 50 en cada tolva", "keep": ["loaded/1-8 50 lb"]},
        {"c": "catch3", "s": "ay no, 58, digo 68", "keep": ["catch_mass/2 68 g"]},
        {"c": "product", "s": "Milpaverde 20G, la minima es de 5 libras por acre", "keep": ["tare 20 g"]},
    ],
}


@lru_cache(maxsize=2)
def stage(language: str) -> SuiteStage:
    return SuiteStage(load_suite(UTTERANCES / language / "contexts.yaml"), language)


def outcome(language: str, case: UtteranceCase) -> CaseOutcome:
    here = stage(language)
    return CaseOutcome(here.say(here.place(case.context), case.said))


@pytest.mark.parametrize(("language", "told"), [(one, case) for one, some in RIGHT.items() for case in some])
def test_a_sentence_is_taken_as_it_is_meant(language: str, told: dict[str, object]) -> None:
    case = UtteranceCase.model_validate(told)
    found = outcome(language, case)
    assert judge(case, found) is Grade.RIGHT, (case.said, found.reply)


@pytest.mark.parametrize(("language", "told"), [(one, case) for one, some in NOT_KEPT.items() for case in some])
def test_what_was_not_said_is_not_kept(language: str, told: dict[str, object]) -> None:
    case = UtteranceCase.model_validate(told)
    assert judge(case, outcome(language, case)) is not Grade.RIGHT


@pytest.mark.parametrize(
    ("language", "typed"), [("en", "sxity eight"), ("en", "trhee"), ("es", "sesnta y ocho"), ("es", "nuebe")]
)
def test_a_misspelt_number_is_never_taken_in_part(language: str, typed: str) -> None:
    found = outcome(language, UtteranceCase.model_validate({"c": "tare", "s": typed, "none": True}))
    values = {one["value"] for one in found.kept.values()}
    assert values <= {68.0, 3.0, 9.0}


@pytest.mark.parametrize("said", ["South quarter", "no, Mill Creek", "no it's Hill 40"])
def test_a_name_that_is_asked_back_is_replaced_by_the_right_one(said: str) -> None:
    here = stage("en")
    doubted = here.say(here.place("field"), "what we call the back place over the hill")
    assert doubted.turn.state.dialog is not None
    place = replace(here.place("field"), state=doubted.turn.state)
    kept = CaseOutcome(here.say(place, said)).kept
    assert kept == {("field", None): said.removeprefix("no, ").removeprefix("no it's ")}


@pytest.mark.parametrize("said", ["give me 90000000 hours", "remind me in 20000 hours"])
def test_a_look_is_put_off_for_a_day_at_most(said: str) -> None:
    found = outcome("en", UtteranceCase.model_validate({"c": "look", "s": said, "report": "snoozed"}))
    waits = [Measure.model_validate(value) for kind, _, value in found.noted if kind == "snoozed"]
    assert all(one.to("h").value <= 24 for one in waits), found.reply
    assert waits or found.wonders or found.misheard


def test_a_lot_told_with_a_refill_is_kept_whatever_its_number() -> None:
    here = stage("en")
    (told,) = here.say(here.place("shift"), "topped off all of em with lot 5").reading.entries
    assert isinstance(told, Reported)
    assert told.lot == "5"
