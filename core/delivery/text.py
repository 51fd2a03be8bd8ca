"""From a notice's payload to text. Pure: the lines were made by the room that knows what they mean."""

from collections.abc import Mapping
from typing import Any


def rendered(payload: Mapping[str, Any]) -> tuple[str, str]:
    """(title, body) of `{"title": str, "lines": [str, ...]}`. The title is one line, the body ends with a newline.

    Control characters become spaces, so that no text can pass for a header or move a terminal's cursor.

    Raises:
        ValueError: the payload has no title or its lines are no list of strings.
    """
    title, lines = payload.get("title"), payload.get("lines")
    if not isinstance(title, str) or not title.strip():
        raise ValueError("the notice has no title")
    if not isinstance(lines, list) or not all(isinstance(line, str) for line in lines):
        raise ValueError("the notice's lines are no list of texts")
    body = "\n".join(plain(part) for line in lines for part in line.split("\n"))
    return plain(title).strip(), body.rstrip() + "\n"


def plain(text: str) -> str:
    """The text with a space for each control character, line breaks too."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else " " for letter in text)
