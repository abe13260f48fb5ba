"""The methods that send: text, voice, picture, document."""

from __future__ import annotations

from typing import Any

from tests.helpers.telegram_server.account import BOT, Account, Message
from tests.helpers.telegram_server.markup import checked, shown
from tests.helpers.telegram_server.media import is_opus, opus_seconds, picture_size
from tests.helpers.telegram_server.refusal import Refusal, bad_request
from tests.helpers.telegram_server.request import Call, Upload
from tests.helpers.telegram_server.transcript import Sent, Transcript

TEXT_LENGTH, CAPTION_LENGTH = 4096, 1024
LARGEST_UPLOAD, LARGEST_PICTURE = 50 * 2**20, 10 * 2**20


class Sending:
    """Sends into the account's chats, and writes the transcript."""

    def __init__(self, account: Account, transcript: Transcript) -> None:
        self.account, self.transcript = account, transcript

    def text(self, call: Call) -> Message:
        chat_id = self.account.writable(call.chat_id)
        return self._send(call, chat_id, checked_text(call), None, text=checked_text(call))

    def voice(self, call: Call) -> Message:
        chat_id, upload = self.account.writable(call.chat_id), self._file(call, "voice")
        kept = self.account.keep_file(upload.content, upload.name, upload.mime_type)
        if not is_opus(upload.content):
            return self._send(call, chat_id, checked_caption(call), upload, document=_document(kept, upload))
        seconds = call.get("duration") or opus_seconds(upload.content)
        voice = kept | {"duration": seconds, "mime_type": "audio/ogg"}
        return self._send(call, chat_id, checked_caption(call), upload, voice=voice)

    def picture(self, call: Call) -> Message:
        chat_id, upload = self.account.writable(call.chat_id), self._file(call, "photo")
        if len(upload.content) > LARGEST_PICTURE:
            raise Refusal(413, "Request Entity Too Large")
        width, height = picture_size(upload.content)
        kept = self.account.keep_file(upload.content, upload.name, upload.mime_type)
        sizes = [kept | {"width": width, "height": height}]
        return self._send(call, chat_id, checked_caption(call), upload, photo=sizes)

    def document(self, call: Call) -> Message:
        chat_id, upload = self.account.writable(call.chat_id), self._file(call, "document")
        kept = self.account.keep_file(upload.content, upload.name, upload.mime_type)
        return self._send(call, chat_id, checked_caption(call), upload, document=_document(kept, upload))

    def _file(self, call: Call, name: str) -> Upload:
        """What was uploaded, or a file that is sent again by its id."""
        value = str(call.get(name, ""))
        upload = call.uploads.get(value.removeprefix("attach://") if value.startswith("attach://") else name)
        if upload is None:
            stored = self.account.files.get(value)
            if stored is None:
                raise bad_request(f"there is no {name} in the request")
            upload = Upload(stored.name, stored.content, stored.mime_type)
        if not upload.content:
            raise bad_request("file must be non-empty")
        if len(upload.content) > LARGEST_UPLOAD:
            raise Refusal(413, "Request Entity Too Large")
        return upload

    def _send(self, call: Call, chat_id: int, words: str, upload: Upload | None, **content: Any) -> Message:
        markup = checked(call.get("reply_markup"))
        if "text" not in content:
            content["caption"] = words or None
        content["reply_to_message"] = self._answered(chat_id, call)
        content["has_protected_content"] = call.get("protect_content") or None
        message = self.account.new_message(chat_id, BOT, reply_markup=shown(markup), **content)
        self.transcript.add(
            Sent(
                call.method,
                chat_id,
                message["message_id"],
                self.account.clock.now(),
                words,
                markup,
                silent=bool(call.get("disable_notification")),
                protected=bool(call.get("protect_content")),
                file=upload.content if upload else None,
                file_name=upload.name if upload else None,
            )
        )
        return message

    def _answered(self, chat_id: int, call: Call) -> Message | None:
        reply = call.get("reply_parameters")
        if reply is None:
            return None
        message = self.account.messages.get((chat_id, reply["message_id"]))
        if message is None and not reply.get("allow_sending_without_reply"):
            raise bad_request("message to be replied not found")
        return {k: v for k, v in message.items() if k != "reply_to_message"} if message else None


def checked_text(call: Call) -> str:
    text = str(call.get("text", "")).strip()
    if not text:
        raise bad_request("message text is empty")
    if len(text) > TEXT_LENGTH:
        raise bad_request("message is too long")
    return text


def checked_caption(call: Call) -> str:
    caption = str(call.get("caption", ""))
    if len(caption) > CAPTION_LENGTH:
        raise bad_request("message caption is too long")
    return caption


def _document(kept: dict[str, Any], upload: Upload) -> dict[str, Any]:
    return kept | {"file_name": upload.name, "mime_type": upload.mime_type}
