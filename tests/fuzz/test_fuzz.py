"""The short form of the fuzzing: no request that the document allows or forbids breaks the program or its word."""

import pytest

from tests.fuzz.running import fuzz
from tests.fuzz.served import served

pytestmark = pytest.mark.once


def test_nothing_that_is_asked_breaks_the_program_or_its_document() -> None:
    with served() as server:
        for role in ("manager", "report_token", "anonymous"):
            told = fuzz(server, role, seed=20261125, examples=1, phases="fuzzing")
            assert told.failures == []
            assert told.whole
            assert told.operations > 150
            assert told.cases >= 180
