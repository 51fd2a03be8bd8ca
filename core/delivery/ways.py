"""The ways: console, file, mail."""

import os
import smtplib
import sys
from pathlib import Path
from typing import Protocol

from django.conf import settings
from django.core.mail import EmailMessage

from core.delivery.errors import Permanent, Temporary
from core.delivery.message import Message
from core.models import WayKind


class Sender(Protocol):
    def send(self, message: Message) -> None:
        """Return when the message is out of our hands.

        Raises:
            Temporary, Permanent: it is not.
        """
        ...


class ConsoleSender:
    """Print the message on standard output."""

    def send(self, message: Message) -> None:
        sys.stdout.write(f"--- to {message.name}: {message.title}\n{message.body}\n")
        sys.stdout.flush()


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
            raise Temporary(f"The outbox folder took no file ({os.strerror(error.errno or 0)}).") from error


class MailSender:
    """Mail through the server of READYGROUND_SMTP_URL, by the framework's mail backend.

    The Message-ID comes from the notice and stays the same on every try: a link that breaks between the server's
    taking and its saying so (RFC 1047) makes a second copy of the same message, never a lost one."""

    def send(self, message: Message) -> None:
        if not message.address:
            raise Permanent("The way has no mail address.")
        mail = EmailMessage(
            subject=message.title,
            body=message.body,
            to=[message.address],
            headers={"Message-ID": message_id(message), "Auto-Submitted": "auto-generated"},
        )
        try:
            mail.send()
        except smtplib.SMTPRecipientsRefused as error:
            code = max((answer[0] for answer in error.recipients.values()), default=0)
            raise _by_code(code, "The mail server refused the address") from error
        except smtplib.SMTPDataError as error:
            raise _by_code(error.smtp_code, "The mail server refused the message") from error
        except smtplib.SMTPException as error:  # sign-in, sender, greeting: our set-up or their bad day
            said = f", {error.smtp_code}" if isinstance(error, smtplib.SMTPResponseException) else ""
            raise Temporary(f"The mail server did not take it ({type(error).__name__}{said}).") from error
        except OSError as error:
            raise Temporary(f"The mail server could not be reached ({type(error).__name__}).") from error


def _by_code(code: int, sentence: str) -> Temporary | Permanent:
    kind = Permanent if 500 <= code <= 599 else Temporary
    return kind(f"{sentence} ({code}).")


def message_id(message: Message) -> str:
    """The globally unique identifier of RFC 5322, 3.6.4, equal on every try."""
    domain = settings.MAIL_FROM.rpartition("@")[2].strip("> ") or "localhost"
    return f"<{message.id}@{domain}>"


def sender_of(kind: str) -> Sender:
    """The sender of a way's kind. Without a mail server set, mail goes the file way and can be read there."""
    if kind == WayKind.CONSOLE:
        return ConsoleSender()
    if kind == WayKind.MAIL and settings.SMTP_URL:
        return MailSender()
    return FileSender()
