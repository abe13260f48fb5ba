"""Pictures and pages as somebody looked at them and found them good: what is drawn now looks the same.

``python -m tests.sheet.test_golden_images`` draws them anew; look at what changed before it is kept.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageStat

from bot.record.shift_words import account
from bot.sheet.canvas import AnySheet
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.sheet.shift_summary import shift_sheet
from engine.data.languages import DEFAULT
from engine.history.shifts import shifts
from tests.helpers.planting import night
from tests.helpers.sheets import LONG, SHORT, run_sheet
from tests.sheet.test_night import CHICAGO

FOLDER = Path(__file__).parent / "golden"
HALF = 2
"""They are kept at half the size, in which every letter can still be read."""
MOST = 1.0
"""So far may the mean of all pixels differ, of 255: letters are smoothed a little differently by each release of the
library that draws them, while a row that is drawn elsewhere makes several times that."""


def sheets() -> dict[str, AnySheet]:
    (record,) = shifts(night())
    return {
        "run-8-es-long": run_sheet(8, "es", LONG),
        "run-16-en": run_sheet(16, "en", SHORT),
        "run-24-en-long": run_sheet(24, "en", LONG),
        "run-36-es": run_sheet(36, "es", SHORT),
        "night-8-en": shift_sheet(record, account(DEFAULT, CHICAGO, record.system), ["Big red", "with Otto"]),
    }


def drawn(sheet: AnySheet) -> Image.Image:
    whole = Image.open(io.BytesIO(picture(sheet))).convert("RGB")
    return whole.resize((whole.width // HALF, whole.height // HALF), Image.Resampling.BOX)


@pytest.mark.parametrize("name", ["run-8-es-long", "run-16-en", "run-24-en-long", "run-36-es", "night-8-en"])
def test_a_picture_looks_as_it_did(name: str) -> None:
    now, before = drawn(sheets()[name]), Image.open(FOLDER / f"{name}.png").convert("RGB")
    assert now.size == before.size
    assert difference(now, before) <= MOST


def difference(one: Image.Image, other: Image.Image) -> float:
    return max(ImageStat.Stat(ImageChops.difference(one, other)).mean)


def test_a_row_that_is_drawn_elsewhere_is_noticed() -> None:
    sheet = run_sheet(16)
    moved = tuple(row.model_copy(update={"off": -12.0}) if row.row == 4 else row for row in sheet.rows)
    other = sheet.model_copy(update={"rows": (*moved[8:], *moved[:8])})
    assert difference(drawn(sheet), drawn(other)) > 3 * MOST


@pytest.mark.parametrize("name", ["run-36-es", "run-8-es-long", "night-8-en"])
def test_it_is_told_apart_without_colour(name: str) -> None:
    """In shades of grey nothing that is drawn vanishes in the paper: every ink keeps its distance from it."""
    grey = drawn(sheets()[name]).convert("L")
    low, high = grey.getextrema()
    assert isinstance(low, int) and isinstance(high, int) and high - low > 150


def test_the_file_says_whose_it_is_and_when_it_was() -> None:
    content = pages(run_sheet(16, "en", LONG))
    assert b"/CreationDate (D:20260422011600+00\\'00\\')" in content or re.search(
        rb"/CreationDate \(D:20260422011600\+00'00'\)", content
    )
    assert b"Maximiliana Longname-Somewhere" in content


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name, sheet in sheets().items():
        drawn(sheet).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
