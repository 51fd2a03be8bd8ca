"""The one door by which a request goes to an address that somebody typed.

Every address of the name is checked, and one that was checked is the one dialled: a name that answers differently the
second time changes nothing. Nothing is followed, and of the answer only the first 64 KB are read.
"""

import ipaddress
import re
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from email import policy
from email.parser import BytesHeaderParser
from urllib.parse import urlsplit

from core.delivery.errors import Permanent, Temporary

SECONDS = 5.0
LARGEST_ANSWER = 64 * 1024
_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?\Z|[0-9a-f:.]+\Z")

Resolve = Callable[[str, int], list[str]]


@dataclass(frozen=True, slots=True)
class Target:
    """Where a request goes: `host` names it (Host, SNI), `secure` is TLS, `free` stands in the allow-list."""

    host: str
    port: int
    path: str
    secure: bool
    free: bool

    @property
    def netloc(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == (443 if self.secure else 80) else f"{host}:{self.port}"


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    retry_after: str


def target_of(address: str, allowed: frozenset[str]) -> Target:
    """Where an address leads. `allowed` has "host:port" of gateways in one's own network.

    Raises:
        Permanent: it is no https address on port 443 and does not stand in `allowed`, or it is malformed.
    """
    try:
        parts = urlsplit(address)
        host, port = (parts.hostname or ""), parts.port
    except ValueError as error:
        raise Permanent("The gateway's address cannot be read.") from error
    plain = address.isascii() and address.isprintable() and " " not in address and "\\" not in address
    if not plain or "@" in parts.netloc or "%" in parts.netloc or parts.fragment or not _HOST.match(host):
        raise Permanent("The gateway's address is malformed; write https://host/path.")
    port = port if port is not None else 80 if parts.scheme == "http" else 443
    named = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    free = named in allowed
    if parts.scheme != "https" and not (free and parts.scheme == "http"):
        raise Permanent("The gateway's address must begin with https://.")
    if port != 443 and not free:
        raise Permanent("The gateway's port must be 443.")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(host, port, path, parts.scheme == "https", free)


def is_public(address: str) -> bool:
    """Whether an IP address is one of the open internet, also seen through the IPv6 forms that carry an IPv4 one."""
    ip = ipaddress.ip_address(address.partition("%")[0])
    if not ip.is_global or ip.is_multicast or ip.is_reserved or ip.is_unspecified or ip.is_loopback:
        return False
    if isinstance(ip, ipaddress.IPv6Address):
        inner = ip.ipv4_mapped or ip.sixtofour
        return not ip.is_site_local and (inner is None or is_public(str(inner)))
    return True


def resolved(host: str, port: int) -> list[str]:
    """The IP addresses of a name, in the order of the system."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, proto=socket.IPPROTO_TCP)
    return [str(entry[4][0]) for entry in found]


def post(target: Target, headers: Mapping[str, str], body: bytes, *, resolve: Resolve = resolved) -> Answer:
    """POST and read the status, within five seconds from the dialling.

    Raises:
        Permanent: the name leads into a private network.
        Temporary: nothing answered in time, or not by HTTP.
    """
    try:
        addresses = resolve(target.host, target.port)
    except (OSError, UnicodeError) as error:
        raise Temporary("The gateway's name was not found.") from error
    if not addresses:
        raise Temporary("The gateway's name was not found.")
    if not target.free and not all(is_public(address) for address in addresses):
        raise Permanent("The gateway's address leads into a private network, where nothing is sent.")
    until = time.monotonic() + SECONDS
    try:
        with socket.create_connection((addresses[0], target.port), timeout=SECONDS) as bare:
            link: socket.socket = bare
            if target.secure:
                context = ssl.create_default_context()
                link = context.wrap_socket(bare, server_hostname=target.host, do_handshake_on_connect=False)
            with link, _ended_after(link, _left(until)):
                if isinstance(link, ssl.SSLSocket):
                    link.do_handshake()
                link.sendall(_request(target, headers, body))
                return _answer(link)
    except ssl.SSLCertVerificationError as error:
        raise Temporary("The gateway's certificate is not good.") from error
    except OSError as error:
        raise Temporary(f"The gateway could not be reached ({type(error).__name__}).") from error


def _left(until: float) -> float:
    left = until - time.monotonic()
    if left <= 0:
        raise TimeoutError
    return left


@contextmanager
def _ended_after(link: socket.socket, seconds: float) -> Iterator[None]:
    """Shut the link after so many seconds: a time limit of each step does not stop one that sends a byte at a time."""

    def end() -> None:
        with suppress(OSError):
            socket.socket.shutdown(link, socket.SHUT_RDWR)  # past TLS, whose own shutdown may wait

    timer = threading.Timer(seconds, end)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _request(target: Target, headers: Mapping[str, str], body: bytes) -> bytes:
    lines = {"Host": target.netloc, "Content-Length": str(len(body)), "Connection": "close", **headers}
    head = "".join(f"{name}: {value}\r\n" for name, value in lines.items())
    return f"POST {target.path} HTTP/1.1\r\n{head}\r\n".encode("ascii") + body


def _answer(link: socket.socket) -> Answer:
    """The status and what else is heeded of the head of an answer; answers that announce another are passed over."""
    read = b""
    while True:
        head, whole, rest = read.partition(b"\r\n\r\n")
        if whole:
            first, _, fields = head.partition(b"\r\n")
            match = re.match(rb"HTTP/1\.[01] (\d{3})(?: |\Z)", first)
            if match is None:
                raise Temporary("The gateway did not answer by HTTP.")
            status = int(match.group(1))
            if not 100 <= status < 200:
                named = BytesHeaderParser(policy=policy.compat32).parsebytes(fields)
                return Answer(status, str(named.get("Retry-After", "")))
            read = rest
            continue
        more = link.recv(4096)
        if not more:
            raise Temporary("The gateway closed the link without an answer.")
        read += more
        if len(read) > LARGEST_ANSWER:
            raise Temporary("The gateway's answer is too large.")
