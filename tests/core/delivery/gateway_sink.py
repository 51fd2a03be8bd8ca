"""A gateway on loopback that answers as it is told and remembers what came in."""

import http.server
import threading
import time
from types import TracebackType
from typing import Any


class _Handler(http.server.BaseHTTPRequestHandler):
    server: "GatewaySink"

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.requests.append((self.path, dict(self.headers.items()), body))
        try:
            self.wfile.write(self.server.answer)
            for _ in range(self.server.drips):
                time.sleep(0.2)
                self.wfile.write(b"X")
                self.wfile.flush()
        except OSError:  # the sender left
            return

    def log_message(self, format: str, *args: Any) -> None:
        return


class GatewaySink(http.server.ThreadingHTTPServer):
    """`with GatewaySink(b"HTTP/1.1 204 No Content\\r\\n\\r\\n") as sink: ...`; `drips` bytes follow, five a second."""

    daemon_threads = True

    def __init__(self, answer: bytes, drips: int = 0) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.answer, self.drips = answer, drips
        self.requests: list[tuple[str, dict[str, str], bytes]] = []

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.server_address[1]}"

    def __enter__(self) -> "GatewaySink":
        threading.Thread(target=self.serve_forever, daemon=True).start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.shutdown()
        self.server_close()
