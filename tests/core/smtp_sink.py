"""A mail server on loopback that takes its time and remembers what it accepted."""

import re
import socketserver
import threading
import time
from types import TracebackType


class _Talk(socketserver.StreamRequestHandler):
    server: "SmtpSink"

    def handle(self) -> None:
        try:
            self._talk()
        except OSError:  # the sender was killed
            return

    def _talk(self) -> None:
        self.server.links += 1
        taken = 0
        self._say("220 sink")
        while line := self.rfile.readline():
            word = line.decode("latin-1").strip().upper()
            if word.startswith("DATA"):
                time.sleep(self.server.delay_s / 2)  # nothing is taken yet
                self._say("354 go on")
                lines = []
                while (line := self.rfile.readline()) and line != b".\r\n":
                    lines.append(line)
                if not line:  # the sender was killed before the end: nothing is accepted
                    return
                answer = self.server.answer_to_data
                if answer.startswith("2"):
                    self.server.accepted.append(b"".join(lines).decode("utf-8"))
                time.sleep(self.server.delay_s / 2)  # accepted, and the sender does not know it yet (RFC 1047)
                if answer.startswith("2") and self.server.loses(len(self.server.accepted)):
                    self.server.dropped += 1
                    return
                self._say(answer)
                taken += 1
            elif word.startswith("QUIT"):
                self._say("221 bye")
                return
            elif word.startswith("MAIL") and self.server.most_a_link and taken >= self.server.most_a_link:
                return
            elif word.startswith("RCPT"):
                refused = any(name.upper() in word for name in self.server.refused)
                self._say("550 no such mailbox" if refused else self.server.answer_to_recipient)
            else:
                self._say("250 fine")

    def _say(self, line: str) -> None:
        self.wfile.write(line.encode() + b"\r\n")


class SmtpSink(socketserver.ThreadingTCPServer):
    """`with SmtpSink(delay_s=0.02) as sink: ...`; `accepted` holds whole messages in the order of acceptance.

    `drop_every` = n closes the link instead of confirming every nth message, which it did accept (`dropped` counts
    them); `most_a_link` closes it without a word before the next; `refused` are recipients without a mailbox; `links`
    counts connections."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(
        self,
        *,
        delay_s: float = 0.0,
        to_recipient: str = "250 fine",
        to_data: str = "250 taken",
        drop_every: int = 0,
        most_a_link: int = 0,
        refused: tuple[str, ...] = (),
        port: int = 0,
    ) -> None:
        super().__init__(("127.0.0.1", port), _Talk)
        self.drop_every, self.most_a_link, self.refused = drop_every, most_a_link, refused
        self.links = self.dropped = 0
        self.delay_s = delay_s
        self.answer_to_recipient = to_recipient
        self.answer_to_data = to_data
        self.accepted: list[str] = []

    def loses(self, number: int) -> bool:
        """Whether the answer to this message never reaches the sender."""
        return bool(self.drop_every) and number % self.drop_every == 0

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def ids(self) -> list[str]:
        """The Message-ID of every accepted message."""
        found = (re.search(r"^Message-ID: (\S+)", text, re.MULTILINE) for text in self.accepted)
        return [match.group(1) if match else "" for match in found]

    def __enter__(self) -> "SmtpSink":
        threading.Thread(target=self.serve_forever, daemon=True).start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.shutdown()
        self.server_close()
