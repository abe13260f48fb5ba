"""What can be kept: in words, as a picture, as pages; and what is said where nothing can be drawn."""

from __future__ import annotations

import json

import pytest

from bot.extras import MODULES, Extra
from tests.helpers.page_client import ask, paired
from tests.helpers.page_host import PageHost
from tests.helpers.planting import plant

NAMES = ("run", "night", "row-3", "record")


@pytest.fixture
def night(host: PageHost) -> PageHost:
    plant(host.record, conversation="console")
    return host


def test_every_paper_is_told_and_drawn(night: PageHost) -> None:
    token = paired(night)
    for name in NAMES:
        links = json.loads(ask(night, f"/paper/{name}.json", token=token).body)
        assert links["title"] and links["lines"] and not links["lacks"], name
        picture, pages = ask(night, links["picture"], token=token), ask(night, links["pages"], token=token)
        assert picture.body.startswith(b"\x89PNG") and picture.headers["Content-Type"] == "image/png"
        assert pages.body.startswith(b"%PDF-") and f"rowhand-{name}.pdf" in pages.headers["Content-Disposition"]


def test_before_anything_was_done_that_is_said(host: PageHost) -> None:
    token = paired(host)
    for name in NAMES:
        links = json.loads(ask(host, f"/paper/{name}.json", token=token).body)
        assert len(links["lines"]) == 1 and not links["picture"], name
        assert ask(host, f"/paper/{name}.pdf", token=token).status == 404
    for name in ("row-0", "row-", "nothing", "row-1000"):
        assert ask(host, f"/paper/{name}.json", token=token).status == 404


def test_without_what_draws_it_is_told_and_said_what_is_missing(
    night: PageHost, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(MODULES, Extra.PAPER, ("no_such_module_anywhere",))
    links = json.loads(ask(night, "/paper/run.json", token=paired(night)).body)
    assert links["lines"] and not links["picture"] and "rowhand[paper]" in links["lacks"]
