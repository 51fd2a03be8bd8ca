"""Words of the pages: what a replant gains, what a limit means, what a source is worth."""

import pytest

from jobs.templatetags.jobs_text import gain, source, verdict


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [
        (-0.6, -0.4, "Planting again would lose 0 to 1 point."),
        (-0.4, 0.3, "Planting again gains nothing and loses nothing."),
        (-1.2, -0.8, "Planting again would lose about 1 point."),
        (3.0, 7.4, "Planting again would gain 3 to 7 points."),
        (-2.0, 5.0, "Planting again may lose about 2 points or gain about 5 points."),
    ],
)
def test_a_gain_is_whole_points_and_never_minus_nought(low: float, high: float, says: str) -> None:
    assert gain({"gain_low": low, "gain_high": high}) == says


def test_no_verdict_reads_as_an_order_to_stop_now() -> None:
    assert verdict("stop") == "Where it does not hold, the work stops."
    assert verdict("written reason").endswith("a manager's written reason.")
    assert verdict("advice") == "Advice."


def test_a_source_from_memory_says_so_once() -> None:
    memory = {"source_title": "From memory, not confirmed: overwrite it", "worth": "from memory"}
    assert source(memory) == "From memory, not confirmed: overwrite it"
    assert source({"source_title": "Bulletin 12", "worth": "strong"}) == "Bulletin 12 (strong)"
