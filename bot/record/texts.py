"""How the record is told, from its definition file."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import Literal, Self

from pydantic import model_validator

from engine.definitions import dialogs_directory, read_definition
from engine.dialog.text import Text
from engine.messages import Language, Message


class Key(StrEnum):
    """Every text of the record."""

    SHIFT_HEAD = "shift_head"
    ENDING_FINISHED = "ending_finished"
    ENDING_CANCELLED = "ending_cancelled"
    ENDING_OPEN = "ending_open"
    LOTS = "lots"
    PEOPLE = "people"
    LOOKS = "looks"
    TRUE_RATE = "true_rate"
    TRUE_RATE_CLOCK = "true_rate_clock"
    RATE_ODD = "rate_odd"
    ROW_ODD = "row_odd"
    ROW_RATE = "row_rate"
    WEIGHED = "weighed"
    IN_DOUBT = "in_doubt"
    NOTHING_IN_DOUBT = "nothing_in_doubt"
    OVER_LABEL = "over_label"
    OVER_LABEL_ROWS = "over_label_rows"
    DECIDED = "decided"
    BOOKS = "books"
    BOOKS_PLAIN = "books_plain"
    BASIS_MEASURED = "basis_measured"
    BASIS_TOLD = "basis_told"
    BASIS_ASSUMED = "basis_assumed"
    BASIS_RECKONED = "basis_reckoned"
    UNPROVED = "unproved"
    PUT_BACK = "put_back"
    PUT_BACK_UNWEIGHED = "put_back_unweighed"
    PUT_BACK_AGREES = "put_back_agrees"
    PUT_BACK_LESS = "put_back_less"
    PUT_BACK_MORE = "put_back_more"
    OTHER_CONTAINER = "other_container"
    NOT_LOCKED = "not_locked"
    SCOUT = "scout"
    STOPPED = "stopped"
    HIGH = "high"
    FIELD = "field"
    NAMELESS_FIELD = "nameless_field"
    APPLICATION_OF = "application_of"
    ELEMENT = "element"
    LACKING = "lacking"
    PRODUCT_NAME = "product_name"
    REGISTRATION_NUMBER = "registration_number"
    TOTAL_APPLIED = "total_applied"
    LOCATION = "location"
    AREA = "area"
    CROP_OR_SITE = "crop_or_site"
    APPLIED_ON = "applied_on"
    APPLICATOR_NAME = "applicator_name"
    CERTIFICATION_NUMBER = "certification_number"
    NO_CALIBRATION = "no_calibration"
    NO_SHIFT = "no_shift"
    NO_DOUBT = "no_doubt"
    NO_RATE = "no_rate"
    SHEET_TITLE = "sheet_title"
    SHEET_PLANTED = "sheet_planted"
    SHEET_LOOKS = "sheet_looks"
    SHEET_SPAN = "sheet_span"
    SHEET_FOOTER = "sheet_footer"
    SHEET_LEGEND = "sheet_legend"


class Texts(Message):
    """All texts by key."""

    format: Literal["1"]
    texts: dict[Key, Text]

    @model_validator(mode="after")
    def _all_there(self) -> Self:
        missing = [key for key in Key if key not in self.texts]
        if missing:
            raise ValueError(f"{missing[0]} is missing")
        return self

    def say(self, key: Key, language: Language, **values: str) -> str:
        return self.texts[key].fill(language, values)


@lru_cache(maxsize=1)
def load_texts() -> Texts:
    """Raises DefinitionError where the file is wrong."""
    return read_definition(dialogs_directory() / "channels" / "record.yaml").into(Texts)
