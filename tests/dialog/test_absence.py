"""Laws of rows that are done without: dialog and book agree on them, and nothing of them is asked for or kept."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.helpers.talking import Conversation, beginnings

SAID = (
    "leave row two out",
    "row five is broken",
    "leave out rows 3 and 5",
    "take row five back in",
    "take row two back in",
    "scratch that",
    "row one 79 grams",
    "row two 79 grams",
)


@given(steps=st.lists(st.sampled_from(SAID), max_size=7))
@example(steps=["row five is broken", "leave out rows 3 and 5", "scratch that"])
@example(steps=["row five is broken", "row one 79 grams", "take row five back in", "scratch that"])
@settings(max_examples=12, deadline=None)
def test_dialog_and_book_agree_on_rows_left_out_and_none_is_asked(steps: list[str]) -> None:
    with TemporaryDirectory() as folder:
        talk = Conversation(Path(folder) / "talk.db")
        talk.say_all([one for name in ("prepared", "catching") for one in beginnings()[name]])
        for said in steps:
            talk.say(said)
            state = talk.assistant.state("c")
            assert state.dialog is not None
            out = set(state.book.left_out)
            assert set(state.dialog.left_out) == out
            assert not out & {row for slot in talk.expects.slots for row in slot.open_rows}
            assert not out & set(state.dialog.rows.get("catch_mass", {}))


def test_taking_back_leaves_the_reason_from_before(tmp_path: Path) -> None:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all([one for name in ("prepared", "catching") for one in beginnings()[name]])
    talk.say_all(["row five is broken", "leave out rows 3 and 5, hose is split", "scratch that"])
    assert talk.assistant.state("c").book.left_out == {5: "row five is broken"}
    talk.restart()
    assert talk.assistant.state("c").book.left_out == {5: "row five is broken"}
