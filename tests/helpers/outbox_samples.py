"""A sample of every message that can leave by the outbox."""

from __future__ import annotations

from engine.document import Document, Media
from engine.messages import Button
from engine.queues import outbox_message
from engine.queues.outbox_message import OutboxMessage

SI = Button(label="Sí", says="sí")
SAMPLES: tuple[OutboxMessage, ...] = (
    outbox_message.TextMessage(
        text="¿Surco 4?\u2028", speech="four", buttons=(SI,), seq=12, can_wait=True, forget=True
    ),
    outbox_message.ReminderMessage(
        text="Look", speech="look", buttons=(SI,), seq=3, language="es", audience=outbox_message.Audience.OPERATOR,
        attempt=2, aloud_too=True, instead_of=("ring/1/1",),
    ),
    outbox_message.VoiceNoteMessage(said="row four", language="es", silent=False),
    outbox_message.PictureMessage(text="Run 1", drawing={"rows": [1, 2.5, None, {"ñ": True}]}, silent=True),
    outbox_message.PagesMessage(text="", drawing={"title": "Ñ"}, name="run.pdf"),
    outbox_message.DocumentMessage(
        text="Ñ, 12-3", document=Document(sha256="a" * 64, media=Media.PDF), name="Ñ.pdf", instead="Gone", silent=True
    ),
    outbox_message.TableMessage(text="2 lines", table="row,net\r\n1,49.1\r\n", name="runs.csv"),
    outbox_message.WithdrawalMessage(keys=("ring/1/1", "ring/1/1:telegram:2")),
)  # fmt: skip
