"""A public weather service on loopback, in its true shape, that misbehaves as asked."""

from __future__ import annotations

import gzip
import json
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

OUTAGE = {
    "title": "Forecast Grid Expired",
    "type": "https://api.weather.gov/problems/ForecastGridExpired",
    "status": 503,
    "detail": "The requested forecast grid was issued 2020-02-11T02:50:40+00:00 and has expired.",
}


class Stub:
    """`pages` by path, with or without query, a text as CSV; `faults` are used up one a request, in order; `seen` are
    the requests as (path, headers)."""

    def __init__(self) -> None:
        self.pages: dict[str, Any] = {}
        self.faults: list[str] = []
        self.seen: list[tuple[str, dict[str, str]]] = []
        self.etag = '"1"'
        self.url = ""


@contextmanager
def weather_service() -> Iterator[Stub]:
    stub = Stub()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            stub.seen.append((self.path, dict(self.headers)))
            fault = stub.faults.pop(0) if stub.faults else ""
            page = self.path if self.path in stub.pages else self.path.partition("?")[0]
            told = stub.pages.get(page)
            self.kind = "text/csv" if isinstance(told, str) else "application/geo+json"
            body = told.encode() if isinstance(told, str) else json.dumps(told).encode()
            if fault == "hang":
                time.sleep(3)
                return
            if fault == "cut":
                self.answer(200, body[: len(body) // 2], length=len(body))
                self.connection.shutdown(socket.SHUT_RDWR)
                return
            if fault == "half json":
                self.answer(200, body[: len(body) // 2])
            elif fault == "html":
                self.answer(200, b"<html>busy</html>", kind="text/html")
            elif fault == "plain":
                self.answer(200, b"please wait", kind="text/plain")
            elif fault == "empty":
                self.answer(200, b"", kind="text/plain")
            elif fault == "null":
                self.answer(200, b"null")
            elif fault == "list":
                self.answer(200, b"[]")
            elif fault == "latin":
                self.answer(200, b'{"properties": "\xe9"}')
            elif fault == "bad gzip":
                self.answer(200, b"\x1f\x8b no such thing", more={"Content-Encoding": "gzip"})
            elif fault == "bomb":
                self.answer(
                    200, gzip.compress(b'"' + b"x" * (40 * 1024 * 1024) + b'"'), more={"Content-Encoding": "gzip"}
                )
            elif fault == "gzip":
                self.answer(200, gzip.compress(body), more={"Content-Encoding": "gzip"})
            elif fault == "gzip twice":
                self.answer(200, gzip.compress(gzip.compress(body)), more={"Content-Encoding": "gzip"})
            elif fault == "trickle":
                self.trickle(body)
            elif fault == "huge":
                self.answer(200, b'"' + b"x" * (7 * 1024 * 1024) + b'"')
            elif fault == "elsewhere":
                self.answer(302, b"", more={"Location": "http://127.0.0.2:9/secret"})
            elif fault == "round":
                self.answer(301, b"", more={"Location": self.path})
            elif fault == "rounded":
                self.answer(301, b"{}", kind="application/problem+json", more={"Location": "/rounded"})
            elif fault in ("500", "503", "429"):
                self.answer(int(fault), json.dumps(OUTAGE).encode(), kind="application/problem+json")
            elif fault == "404":
                self.answer(404, json.dumps({"status": 404}).encode(), kind="application/problem+json")
            elif fault == "400":
                self.answer(400, b'{"error": true, "reason": "no such variable"}', kind="application/json")
            elif page not in stub.pages:
                self.answer(404, json.dumps({"status": 404}).encode(), kind="application/problem+json")
            elif self.headers.get("If-None-Match") == stub.etag:
                self.answer(304, b"")
            else:
                self.answer(200, body, more={"ETag": stub.etag})

        def answer(
            self,
            status: int,
            body: bytes,
            *,
            kind: str = "",
            length: int | None = None,
            more: dict[str, str] | None = None,
        ) -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind or self.kind)
            self.send_header("Content-Length", str(len(body) if length is None else length))
            for name, value in (more or {}).items():
                self.send_header(name, value)
            self.end_headers()
            if status != 304:
                self.wfile.write(body)

        def trickle(self, body: bytes) -> None:
            """A byte now and then, so that no single wait is long."""
            self.answer(200, b"", length=len(body))
            try:
                for at in range(40):
                    self.wfile.write(body[at : at + 1])
                    self.wfile.flush()
                    time.sleep(0.1)
            except OSError:
                return

        def log_message(self, *args: Any) -> None:
            """Nothing is written beside the tests."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    Thread(target=server.serve_forever, daemon=True).start()
    stub.url = f"http://127.0.0.1:{server.server_port}"
    try:
        yield stub
    finally:
        server.shutdown()
        server.server_close()
