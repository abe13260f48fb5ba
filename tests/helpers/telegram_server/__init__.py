"""A chat server for tests: it behaves as the real Bot API server does, fails on demand, and is judged."""

from tests.helpers.telegram_server.person import Person
from tests.helpers.telegram_server.server import TelegramServer
from tests.helpers.telegram_server.transcript import Sent, Transcript

__all__ = ["Person", "Sent", "TelegramServer", "Transcript"]
