"""What short answers mean, and that nothing else means anything."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.reply_words import REASONS, Reply, Unclear, Word, understood
from jobs.sentences import REASONS as REPORT_REASONS


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("DONE", Reply(Word.DONE)),
        ("done.", Reply(Word.DONE)),
        ("  Done!!  ", Reply(Word.DONE)),
        ("DONE 4 AC", Reply(Word.DONE, acres=4.0)),
        ("done, 4.5 acres.", Reply(Word.DONE, acres=4.5)),
        ("Done .5ac", Reply(Word.DONE, acres=0.5)),
        ("1 DONE 4 AC", Reply(Word.DONE, 1, acres=4.0)),
        ("#12: done", Reply(Word.DONE, 12)),
        ("b) DONE 3 ac", Reply(Word.DONE, 2, acres=3.0)),
        ("START", Reply(Word.START)),
        ("2. start", Reply(Word.START, 2)),
        ("NO CHAIN BROKE", Reply(Word.NO, reason="machine", said="chain broke")),
        ("no, wind", Reply(Word.NO, reason="wind", said="wind")),
        ("3 NO - the gate is locked!", Reply(Word.NO, 3, reason="access", said="the gate is locked")),
        ("No", Reply(Word.NO, reason="other")),
        ("no my uncle came", Reply(Word.NO, reason="other", said="my uncle came")),
        ("SKIP", Reply(Word.SKIP)),
        ("Stop", Reply(Word.STOP)),
        ("HELP", Reply(Word.HELP)),
        ("?", Reply(Word.HELP)),
        ("\n\nDONE\n> On Thursday the desk wrote:\n> 1. Mow. NO", Reply(Word.DONE)),
    ],
)
def test_an_answer_means_what_it_says(text: str, meant: Reply) -> None:
    assert understood(text) == meant


@pytest.mark.parametrize("text", ["DONE 1", "done 4.", "2 DONE 3"])
def test_a_figure_without_a_unit_is_asked_back(text: str) -> None:
    """It may be acres or the number of a job; a guess would leave a whole job open as one acre done."""
    meant = understood(text)
    assert isinstance(meant, Unclear)
    assert "AC" in meant.sentence


def test_hectares_become_acres_by_the_international_acre() -> None:
    meant = understood("DONE 2 HA")
    assert isinstance(meant, Reply)
    # 1 ha = 2.471 054 acres: NIST Special Publication 811, Appendix B.9, acre = 4.046 873 E+03 m2 (survey foot based)
    assert meant.acres == pytest.approx(2 * 2.471054, rel=1e-5)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   \n \n",
        "done it all except the corner",
        "DONE 4 BAGS",
        "DONE 0",
        "DONE -4",
        "DONE 4 5",
        "DONE 1e9",
        "DONE 9999999",
        "DONE nan",
        "not done",
        "0 DONE",
        "100 DONE",
        "1 2 DONE",
        "one DONE",
        "STOP sending",
        "1 STOP",
        "will start tomorrow",
        "start at noon",
        "yes",
        "no problem",
        "ok",
        "NO" + " x" * 400,
        "١ DONE",
        "D O N E",
        "\x00DONE\x00",
    ],
)
def test_what_is_not_plain_means_nothing(text: str) -> None:
    assert isinstance(understood(text), Unclear)


@given(st.text(max_size=400))
def test_no_text_breaks_it_and_every_unclear_one_says_something(text: str) -> None:
    meant = understood(text)
    assert meant.sentence if isinstance(meant, Unclear) else meant.acres is None or 0 < meant.acres <= 100_000


def test_every_reason_is_one_that_reports_know() -> None:
    assert set(REASONS) | {"other"} <= set(REPORT_REASONS)
