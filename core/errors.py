"""What a service raises when a request is wrong. "Cannot" is a result; "wrong" is one of these."""

from collections.abc import Mapping
from typing import Any


class Refused(Exception):
    """The request is refused and nothing was stored.

    `sentence` says in plain words what is wrong and what to do; `facts` carries ids and figures; `code` is stable for
    scripts; `field` names the offending field, if one does."""

    def __init__(self, sentence: str, *, code: str = "refused", field: str = "", **facts: Any) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.code = code
        self.field = field
        self.facts: Mapping[str, Any] = facts


class NotAllowed(Refused):
    """The person's role or token does not allow it."""

    def __init__(self, sentence: str, **facts: Any) -> None:
        super().__init__(sentence, code="not_allowed", **facts)


class NotFound(Refused):
    """The thing does not exist in this holding, which is all that is ever said of another holding's things."""

    def __init__(self, sentence: str = "Not found in this holding.", **facts: Any) -> None:
        super().__init__(sentence, code="not_found", **facts)
