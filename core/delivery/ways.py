"""The ways of this machine, console and file, and which sender a kind of way has."""

import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from django.conf import settings

from core.delivery.errors import Temporary
from core.delivery.mail import MailSender, message_id
from core.delivery.message import Message
from core.delivery.webhook import WebhookSender
from core.models import WayKind


class Sender(Protocol):
    """Sends one message after the other, and is closed after the last."""

    def send(self, message: Message) -> None:
        """Return when the message is out of our hands.

        Raises:
            Temporary, Permanent: it is not.
        """
        ...

    def close(self) -> None:
        """Let go of what was kept open between messages. Never raises."""
        ...


class ConsoleSender:
    """Print the message on standard output."""

    def send(self, message: Message) -> None:
        sys.stdout.write(f"--- to {message.name}: {message.title}\n{message.body}\n")
        sys.stdout.flush()

    def close(self) -> None:
        return


class FileSender:
    """One text file a message, `outbox/<message id>.txt` in the data folder, whole or not there at all.

    A message sent twice is the same file with the same content."""

    def send(self, message: Message) -> None:
        path = Path(settings.DATA) / "outbox" / f"{message.id}.txt"
        part = path.with_suffix(f".{os.getpid()}.part")
        text = f"To: {message.name}\nSubject: {message.title}\nMessage-ID: {message_id(message)}\n\n{message.body}"
        try:
            path.parent.mkdir(mode=0o700, exist_ok=True)
            with part.open("w", encoding="utf-8") as handle:
                handle.write(text)
                handle.flush()
                os.fsync(handle.fileno())
            part.replace(path)
        except OSError as error:
            with suppress(OSError):
                part.unlink()
            raise Temporary(f"The outbox folder took no file ({os.strerror(error.errno or 0)}).") from error

    def close(self) -> None:
        return


def sender_of(kind: str) -> Sender:
    """The sender of a way's kind. Without a mail server set, mail goes the file way and can be read there."""
    if kind == WayKind.CONSOLE:
        return ConsoleSender()
    if kind == WayKind.WEBHOOK:
        return WebhookSender()
    if kind == WayKind.MAIL and settings.SMTP_URL:
        return MailSender()
    return FileSender()
