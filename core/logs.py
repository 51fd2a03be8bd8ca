"""Log lines that tell the operator what broke, and nobody who somebody is.

A line names ids, routes and kinds of errors. Of an exception it keeps the kind and where it rose, not what it said: a
database quotes the row that it refused, a library the address that it could not reach. What still looks like a secret
or like personal data (mail addresses, phone numbers, coordinates, tokens, passwords in addresses of servers, query
strings) is taken out, and so are the control characters by which one line could look like two.
"""

import logging
import re
import time
import traceback
from collections.abc import Mapping
from copy import copy
from types import TracebackType
from typing import TypeAlias

GONE = "[removed]"
SECRET = (
    (re.compile(r"(?i)\b(bearer|basic|token)([ :=]+)[\w.~+/=-]{8,}"), r"\1\2" + GONE),
    (re.compile(r"\b([a-z][a-z0-9+.-]*://)[^\s/@]*@"), r"\1" + GONE + "@"),
    (re.compile(r"(/invitation/)[^/\s'\"]+"), r"\1" + GONE),
    (re.compile(r"(?i)\b((?:secret|password|passwd|key|sha256|session\w*|csrf\w*)[\"']?\s*[:=]\s*)\S+"), r"\1" + GONE),
    (re.compile(r"\?[^\s'\"<>]*=[^\s'\"<>]*"), "?" + GONE),
    (re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+"), GONE),
    (re.compile(r"-?\b\d{1,3}\.\d{3,}\b"), GONE),
    (re.compile(r"(?<![\w.:-])\+?\(?\d{3}\)?[ .-]?\d{3}[ .-]?\d{4}(?![\w:])"), GONE),
    (re.compile(r"(?<![\w.:-])\+\d[\d ()-]{6,}\d"), GONE),
    (re.compile(r"\b(?=[\w-]*\d)(?=[\w-]*[A-Za-z])[\w-]{40,}\b"), GONE),
)
"""(what it looks like, what stands instead). The last: 40 or more letters and digits in a row, as secrets are made."""

Raised: TypeAlias = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


def discreet(text: str) -> str:
    """One line without what looks like a secret or like personal data."""
    text = re.sub(r"[\x00-\x1f\x7f\x85\u2028\u2029]+", " ", text)
    for looks, instead in SECRET:
        text = looks.sub(instead, text)
    return text


class Discreet(logging.Formatter):
    """Times in UTC, one line a record; an exception follows as its kind and its places in the code."""

    converter = time.gmtime  # type: ignore[assignment]

    def __init__(self) -> None:
        super().__init__("{asctime} {levelname} {name}: {message}", style="{")

    def format(self, record: logging.LogRecord) -> str:
        kept = copy(record)
        kept.exc_text = None  # another formatter may have left what the exception said
        if isinstance(record.args, Mapping) and "exc" in record.args:  # the task queue says it in the line as well
            kind = str(record.args["exc"]).partition("(")[0]
            kept.args = {**record.args, "exc": kind, "traceback": ""}
        return super().format(kept)

    def formatMessage(self, record: logging.LogRecord) -> str:
        record.message = discreet(record.message)
        return super().formatMessage(record)

    def formatException(self, raised: Raised) -> str:
        lines: list[str] = []
        seen: BaseException | None = raised[1]
        while seen is not None:
            places = traceback.extract_tb(seen.__traceback__)
            lines += [f"  {type(seen).__module__}.{type(seen).__qualname__}, raised in"]
            lines += [f"    {place.filename}:{place.lineno} {place.name}" for place in places]
            seen = seen.__cause__ or (None if seen.__suppress_context__ else seen.__context__)
        return "\n".join(lines)

    def formatStack(self, stack_info: str) -> str:
        return ""
