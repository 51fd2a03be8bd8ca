"""Why a message did not go. The text is stored and logged: it carries no address, name or message text."""

from datetime import timedelta


class Temporary(Exception):
    """It may go later: try again, not before `after` where the other side named a time."""

    def __init__(self, sentence: str, *, after: timedelta | None = None) -> None:
        super().__init__(sentence)
        self.after = after


class Permanent(Exception):
    """It will never go like this: somebody has to look."""
