"""A log line keeps what helps the operator and drops who it was about, and cannot be made to look like two."""

import io
import logging

import pytest

from core.logs import Discreet, discreet

PRIVATE = {
    "mail for Ada.Lovelace+x@farm.example.org failed": "Ada.Lovelace",
    "called 402-555-0147 twice": "555-0147",
    "called (402) 555 0147": "555",
    "called +49 170 5550147": "5550147",
    "a way at 41.234567, -92.345678": "234567",
    "Authorization: Bearer abcDEF123456789-_x": "abcDEF",
    "redis://:pass-word@127.0.0.1:6379/0 refused": "pass-word",
    "postgres://ready:pass-word@db/land refused": "pass-word",
    "GET /invitation/u3hRk2-secret_part/ broke": "u3hRk2",
    "GET /api/people/?name=Lovelace broke": "Lovelace",
    'password: "open-sesame"': "open-sesame",
    "left with Zx9Kq2Lm8Vb4Nc7Td1Wf6Yg3Hj5Ps0Ra2Ue9Io4Qw8E": "Zx9Kq2",
}


@pytest.mark.parametrize("line", PRIVATE)
def test_what_looks_private_is_taken_out_of_a_line(line: str) -> None:
    assert PRIVATE[line] in line
    assert PRIVATE[line] not in discreet(line)
    assert "[removed]" in discreet(line)


@pytest.mark.parametrize(
    "line",
    [
        "Notice 41, try 3: again. The server answered 451.",
        "holding 7: 3 reckonings differ from a whole walk: [1, 2, 3]",
        "Task jobs.tasks.walk[4b1a7c52-0f4e-4f7e-9b7e-2f1c3d4e5f60] raised unexpected: ValueError",
        "Internal Server Error: /api/jobs/17/why/",
    ],
)
def test_what_the_operator_needs_stays(line: str) -> None:
    assert discreet(line) == line


def test_a_line_stays_one_line() -> None:
    assert discreet("a\r\n2026-01-01 ERROR forged\x1b[2K\u2028b") == "a 2026-01-01 ERROR forged [2K b"


def logged(say: object, *args: object, exc_info: object = None) -> str:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(Discreet())
    record = logging.LogRecord("readyground", logging.ERROR, __file__, 1, say, args, exc_info)  # type: ignore[arg-type]
    record.exc_text = "Lovelace, kept by another formatter"
    handler.emit(record)
    return stream.getvalue()


def raised() -> object:
    try:
        try:
            raise ValueError("Key (name)=(Ada Lovelace) exists")
        except ValueError as error:
            raise KeyError("Lovelace") from error
    except KeyError as error:
        return type(error), error, error.__traceback__


def test_an_exception_is_told_by_its_kind_and_its_places_not_by_what_it_said() -> None:
    text = logged("It broke", exc_info=raised())
    assert "builtins.KeyError" in text
    assert "builtins.ValueError" in text
    assert "test_logs.py:" in text
    assert "Lovelace" not in text


def test_what_a_task_raised_is_not_said_in_its_line_either() -> None:
    context = {"name": "jobs.tasks.walk", "exc": "ValueError('Ada Lovelace')", "traceback": "Ada Lovelace"}
    assert (
        logged("Task %(name)s raised: %(exc)s\n%(traceback)s", context)
        .rstrip()
        .endswith("Task jobs.tasks.walk raised: ValueError")
    )
