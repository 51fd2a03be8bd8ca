"""A link that goes wrong on purpose: a TCP proxy on loopback with one fault at a time.

`with Proxy(port) as proxy:` stands before 127.0.0.1:port and passes everything on. `proxy.fault = "drop"` sets what
happens to connections from then on; `proxy.once("half", "drop")` gives the next ones a fault each, before that.

pass    everything goes through
refuse  the connection is reset before anything is sent on
drop    the request goes through, the server answers, and not one byte of the answer comes back
half    as drop, but the first half of the answer comes back
delay   the answer comes whole, after `delay_s`
"""

import socket
import struct
import threading
import time
from contextlib import suppress
from types import TracebackType

KINDS = ("pass", "refuse", "drop", "half", "delay")
PIECE = 1 << 16


class Proxy:
    """`seen` counts connections by what was done to them."""

    def __init__(self, port: int, *, delay_s: float = 1.0) -> None:
        self.target = port
        self.fault = "pass"
        self.delay_s = delay_s
        self.seen = dict.fromkeys(KINDS, 0)
        self._next: list[str] = []
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=128)
        self.port = int(self._listener.getsockname()[1])

    def once(self, *faults: str) -> None:
        """What happens to the next connections, one each."""
        with self._lock:
            self._next += faults

    def cut(self) -> None:
        """Reset every open connection and refuse new ones until `restore`."""
        self.fault = "refuse"
        with self._lock:
            still = list(self._open)
        for link in still:
            _reset(link)

    def restore(self) -> None:
        self.fault = "pass"

    def __enter__(self) -> "Proxy":
        threading.Thread(target=self._accept, daemon=True).start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)  # wakes the accepting thread, which a close alone does not
        self._listener.close()
        self.cut()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            with self._lock:
                fault = self._next.pop(0) if self._next else self.fault
                self.seen[fault] += 1
                self._open.add(client)
            threading.Thread(target=self._carry, args=(client, fault), daemon=True).start()

    def _carry(self, client: socket.socket, fault: str) -> None:
        server: socket.socket | None = None
        try:
            if fault != "refuse":
                server = socket.create_connection(("127.0.0.1", self.target), timeout=10)
                server.settimeout(None)
                with self._lock:
                    self._open.add(server)
                threading.Thread(target=_pump, args=(client, server), daemon=True).start()
                self._answer(server, client, fault)
        except OSError:
            pass  # one of the two ends is gone, and so goes the other
        finally:
            with self._lock:
                self._open -= {client, server} if server else {client}
            for link in (client, server):
                if link is not None and fault == "pass":
                    _close(link)
                elif link is not None:
                    _reset(link)

    def _answer(self, server: socket.socket, client: socket.socket, fault: str) -> None:
        piece = server.recv(PIECE)  # the server has begun to answer: what was asked of it is done
        if fault == "drop":
            return
        if fault == "half":
            client.sendall(piece[: len(piece) // 2])
            time.sleep(0.05)  # a reset must not overtake the half
            return
        if fault == "delay":
            time.sleep(self.delay_s)
        while piece:
            client.sendall(piece)
            piece = server.recv(PIECE)
        with suppress(OSError):
            client.shutdown(socket.SHUT_WR)


def _pump(source: socket.socket, target: socket.socket) -> None:
    """Carry bytes one way until the source ends; then say so to the target."""
    try:
        while piece := source.recv(PIECE):
            target.sendall(piece)
        target.shutdown(socket.SHUT_WR)
    except OSError:
        for link in (source, target):
            with suppress(OSError):
                link.shutdown(socket.SHUT_RDWR)


def _close(link: socket.socket) -> None:
    with suppress(OSError):
        link.shutdown(socket.SHUT_RDWR)
    link.close()


def _reset(link: socket.socket) -> None:
    """End a connection the hard way: the other side sees a reset, not an end."""
    with suppress(OSError):
        link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        link.shutdown(socket.SHUT_RDWR)
    link.close()
