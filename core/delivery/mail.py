"""Mail: text, perhaps a calendar part, many messages over one connection."""

import logging
import smtplib
from email.utils import formatdate, parseaddr
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.core.mail.backends.smtp import EmailBackend
from django.core.mail.message import sanitize_address

from core.delivery.calendar import calendar_of
from core.delivery.errors import Permanent, Temporary
from core.delivery.message import Message
from core.delivery.mime import is_mailbox, mail_bytes
from core.delivery.signing import stop_address

logger = logging.getLogger("readyground.notices")


class MailSender:
    """Mail through the server of READYGROUND_SMTP_URL, over one connection until closed.

    The Message-ID comes from the notice and stays the same on every try: a link that breaks between the server's
    taking and its saying so (RFC 1047) makes a second copy of the same message, never a lost one. A link found broken
    before the server was given any of the message is made anew, once."""

    def __init__(self) -> None:
        self._mailer: Any = EmailBackend()
        self._unreachable: Temporary | None = None

    def send(self, message: Message) -> None:
        if not message.address:
            raise Permanent("The way has no mail address.")
        body, address = written(message), bare(message.address)
        link, fresh = self._link()
        try:
            try:
                _offer(link, address)
            except OSError as error:  # smtplib's own are of this kind too
                if fresh or isinstance(error, smtplib.SMTPResponseException):
                    raise
                self.close()  # the server let an idle or long used link go: nothing of this message was given
                link, fresh = self._link()
                _offer(link, address)
            code, _ = link.data(body)
        except smtplib.SMTPDataError as error:
            raise self._answer(error.smtp_code, "The mail server refused the message") from error
        except smtplib.SMTPResponseException as error:
            raise self._answer(error.smtp_code, str(error.smtp_error)) from error
        except (smtplib.SMTPException, OSError) as error:
            self.close()
            raise Temporary(f"The link to the mail server broke ({type(error).__name__}).") from error
        if code != 250:
            raise self._answer(code, "The mail server refused the message")

    def close(self) -> None:
        try:
            self._mailer.close()
        except (smtplib.SMTPException, OSError):
            self._mailer.connection = None

    def _link(self) -> tuple[smtplib.SMTP, bool]:
        """(link, whether it was made just now). A server that could not be reached is not tried again until closed."""
        if self._unreachable is not None:
            raise self._unreachable
        try:
            fresh = bool(self._mailer.open())
        except smtplib.SMTPException as error:  # greeting, sign-in: our set-up or their bad day
            said = f", {error.smtp_code}" if isinstance(error, smtplib.SMTPResponseException) else ""
            self._unreachable = Temporary(f"The mail server did not take us in ({type(error).__name__}{said}).")
            raise self._unreachable from error
        except OSError as error:
            self._unreachable = Temporary(f"The mail server could not be reached ({type(error).__name__}).")
            raise self._unreachable from error
        return self._mailer.connection, fresh

    def _answer(self, code: int, sentence: str) -> Temporary | Permanent:
        """The exception for a refusal; the link is kept for the next message where the server keeps it."""
        try:
            if code == 421:  # RFC 5321, 3.8: the server closes the link
                self.close()
            else:
                self._mailer.connection.rset()
        except (smtplib.SMTPException, OSError, AttributeError):
            self.close()
        kind = Permanent if 500 <= code <= 599 else Temporary
        return kind(f"{sentence} ({code}).")


def _offer(link: smtplib.SMTP, address: str) -> None:
    """Name sender and recipient.

    Raises:
        SMTPResponseException: one was refused; the text is a sentence of ours.
    """
    code, _ = link.mail(bare(settings.MAIL_FROM))
    if code != 250:  # our set-up: no message would go, so none is given up for it
        raise smtplib.SMTPResponseException(code if code < 500 else 450, "The mail server refused our own address")
    code, _ = link.rcpt(address)
    if code not in (250, 251):
        raise smtplib.SMTPResponseException(code, "The mail server refused the address")


def written(message: Message) -> bytes:
    """The mail of a message, equal on every try but for its date.

    Raises:
        Permanent: the address cannot stand in a mail.
    """
    try:
        to = mailbox(message.address)
    except ValueError as error:
        raise Permanent("The way's mail address cannot be written into a mail.") from error
    headers = {
        "From": mailbox(settings.MAIL_FROM),
        "To": to,
        "Date": formatdate(),
        "Message-ID": message_id(message),
        "X-Reminder-Id": str(message.id),
        "Auto-Submitted": "auto-generated",  # RFC 3834, 5
    }
    if message.way is not None:
        stop = stop_address(message.way, message.address)
        headers["List-Unsubscribe"] = f"<{stop}>"  # RFC 2369
        if stop.startswith("https:"):  # RFC 8058, 3.1 asks for https
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    calendar = ""
    if message.events:
        try:
            calendar = calendar_of(message.events, made_at=message.made_at, sender=bare(settings.MAIL_FROM))
        except ValueError as error:  # the text says all of it; it must not wait for a calendar
            logger.warning("Message %s goes without its calendar part: %s.", message.id, error)
    # Nobody who wrote part of the text knows the id, so the boundary cannot be in it.
    return mail_bytes(headers, message.title, message.body, calendar, f"part-{message.id.hex}")


@lru_cache(maxsize=256)
def mailbox(address: str) -> str:
    """The address as it stands in a header, with other letters than ASCII encoded.

    Raises:
        ValueError: it cannot stand there.
    """
    if is_mailbox(address):
        return address
    written_out = sanitize_address(address, "utf-8")
    if "@" not in parseaddr(written_out)[1]:
        raise ValueError("It is no mail address.")
    return written_out


def bare(address: str) -> str:
    """The address without a name before it, as the mail server is told it."""
    return address if is_mailbox(address) else parseaddr(mailbox(address))[1]


def message_id(message: Message) -> str:
    """The globally unique identifier of RFC 5322, 3.6.4, equal on every try."""
    domain = settings.MAIL_FROM.rpartition("@")[2].strip("> ") or "localhost"
    return f"<{message.id}@{domain}>"
