"""Reports of one job fold into its facts, in whatever order they arrive."""

import itertools

from jobs.folding import Folded, ReportFact, fold
from jobs.graph.data import Moment, Skip


def said(pk: int, kind: str, at: int, **more) -> ReportFact:
    return ReportFact(pk, kind, Moment.at(at), more.pop("received", at), **more)


def folded(*reports: ReportFact, duration: int = 128, acres: float | None = 6.4) -> Folded:
    return fold(reports, duration=duration, acres=acres, skip_effect=Skip.PASSED_OVER)


def test_nothing_reported_is_nothing_known():
    assert folded() == Folded()


def test_done_without_acres_ends_the_job():
    facts = folded(said(1, "start", 100), said(2, "done", 200, outcome="good"))
    assert (facts.started, facts.finished, facts.outcome) == (Moment.at(100), Moment.at(200), "good")
    assert facts.acres_done == 6.4


def test_a_part_leaves_the_rest_in_proportion():
    facts = folded(said(1, "done", 100, acres=1.6))
    assert (facts.finished, facts.rest, facts.acres_done) == (None, 96, 1.6)
    assert facts.started == Moment.at(100)


def test_parts_add_up_to_done():
    facts = folded(said(1, "done", 100, acres=1.6), said(2, "done", 300, acres=4.8))
    assert facts.finished == Moment.at(300)
    assert [part.acres for part in facts.parts] == [1.6, 4.8]


def test_could_not_takes_back_a_start_that_nothing_followed():
    facts = folded(said(1, "start", 100), said(2, "could_not", 130, reason="wind"))
    assert facts.started is None
    assert facts.trouble is not None
    assert facts.trouble.reason == "wind"


def test_could_not_with_acres_keeps_them():
    facts = folded(said(1, "start", 100), said(2, "could_not", 130, reason="machine", acres=2.5))
    assert facts.started == Moment.at(100)
    assert facts.rest == round(128 * 3.9 / 6.4)


def test_the_next_report_clears_trouble():
    facts = folded(said(1, "could_not", 130, reason="wind"), said(2, "start", 900))
    assert facts.trouble is None


def test_skipped_and_still_to_do_answer_each_other():
    assert folded(said(1, "skipped", 50)).skipped is Skip.PASSED_OVER
    both = folded(said(1, "skipped", 50), said(2, "still_to_do", 60))
    assert (both.skipped, both.still_to_do) == (None, True)


def test_done_goes_before_skipped():
    facts = folded(said(1, "done", 50), said(2, "skipped", 60))
    assert facts.finished == Moment.at(50)
    assert facts.skipped is None


def test_a_correction_takes_the_place_of_what_it_corrects():
    facts = folded(said(1, "done", 50), said(2, "done", 40, acres=2.0, corrects=1, received=90))
    assert facts.finished is None
    assert facts.acres_done == 2.0


def test_a_withdrawn_report_says_nothing():
    assert folded(said(1, "done", 50), said(2, "withdrawn", 60, corrects=1)) == Folded()


def test_a_last_scrap_counts_as_done():
    assert folded(said(1, "done", 50, acres=6.3)).finished == Moment.at(50)


def test_order_of_arrival_does_not_matter():
    reports = [
        said(1, "start", 100),
        said(2, "could_not", 140, acres=2.0, reason="machine", received=900),
        said(3, "done", 400, acres=3.0),
        said(4, "could_not", 500, reason="wind", received=505),
    ]
    answers = {repr(folded(*order)) for order in itertools.permutations(reports)}
    assert len(answers) == 1


def test_a_look_in_vain_has_begun_and_is_asked_for_again():
    vain = said(1, "seen", 100, outcome="not_emerged")
    facts = fold((vain,), duration=30, acres=3.0, skip_effect=Skip.PASSED_OVER, not_yet={"not_emerged"})
    assert (facts.started, facts.finished) == (Moment.at(100), None)
    assert facts.trouble is not None
    assert (facts.trouble.reason, facts.trouble.at) == ("not_emerged", 100)
    other = fold((vain,), duration=30, acres=3.0, skip_effect=Skip.PASSED_OVER, not_yet={"not_closed"})
    assert (other.started, other.trouble) == (None, None)
