"""`manage.py bench`: which benches there are, what is said without one's libraries, and what is printed."""

from __future__ import annotations

import json
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from core.management.commands import bench
from tests.bench import holdings


@pytest.fixture
def tiny(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """A bench of the test's own, `tests.bench.tiny`; give its source."""

    def write(source: str) -> None:
        (tmp_path / "tiny.py").write_text(source)
        monkeypatch.setattr(bench, "BENCHES", tmp_path)
        monkeypatch.setattr(sys.modules["tests.bench"], "__path__", [str(tmp_path)])
        monkeypatch.delitem(sys.modules, "tests.bench.tiny", raising=False)

    return write


def test_the_bench_of_the_walk_is_listed() -> None:
    with pytest.raises(CommandError, match=r"There is no bench 'none'. There are: .*\bwalk\b"):
        call_command("bench", "none")


def test_a_missing_library_is_named_with_what_to_install(tiny: Any) -> None:
    tiny("import a_library_nobody_has\n\ndef main(**asked): pass\n")
    with pytest.raises(CommandError, match=r"a_library_nobody_has, .* -r tests/requirements.txt"):
        bench._bench("tiny")


def test_numbers_stand_right_and_words_left() -> None:
    rows = [{"what": "one", "ms": 1.5}, {"what": "another", "ms": 10.25}]
    assert list(bench._table(rows)) == ["what        ms", "one        1.5", "another  10.25"]


@pytest.mark.parametrize("equal", [True, False])
def test_the_last_line_is_json_and_unequal_results_end_with_1(
    equal: bool, tiny: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    tiny(
        "from __future__ import annotations\n\ndef main(*, sizes, full, say):\n"
        f"    return {{'rows': [{{'jobs': sizes[0]}}], 'ratios': {{'a': 0.5}}, 'equal': {equal}}}\n"
    )
    monkeypatch.setattr(bench, "thrown_away", pytest.MonkeyPatch.context)
    out = StringIO()
    if equal:
        call_command("bench", "tiny", "--sizes", "7", stdout=out)
    else:
        with pytest.raises(SystemExit, match="1"):
            call_command("bench", "tiny", "--sizes", "7", stdout=out)
    last = out.getvalue().strip().splitlines()[-1]
    assert json.loads(last) == {"bench": "tiny", "ratios": {"a": 0.5}, "equal": equal, "rows": [{"jobs": 7}]}


def test_generated_holdings_are_shaped_like_real_seasons() -> None:
    columns = holdings.make(5_000, 1, real=True)
    jobs, arcs, components = len(columns.job), len(columns.arc), len(set(columns.component))
    assert jobs == 5_000
    assert 8 <= jobs / components <= 14
    assert len(set(zip(columns.tail, columns.head, strict=True))) == arcs
    shares = (
        arcs / jobs,
        sum(high < holdings.FAR for high in columns.maximum) / arcs,
        sum(kind > 0 for kind in columns.minimum) / arcs,
        len(columns.standing) / jobs,
        len(columns.branches) / 2 / components,
    )
    assert shares == pytest.approx((1.45, 0.2, 0.1, 0.4, 0.15), rel=0.2)


@pytest.mark.parametrize("jobs", range(1, 20))
def test_the_smallest_holdings_are_made_too(jobs: int) -> None:
    assert len(holdings.make(jobs, jobs, real=True).job) == jobs
