"""The shipped sequences: all of them, each wait and date with a source, and no caution missing."""

import copy
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from jobs.graph.data import Relation
from jobs.law.contract import CAP_SOURCE, NESTING_SOURCE, SHARE_SOURCE
from jobs.law.zones import ZONE_SOURCE
from jobs.sequences import SequenceError, from_document, read_folder
from jobs.sequences.reference import HAZARDS, WORTHS

from .conftest import FIXTURES

NAMES = {
    "after_flood",
    "autumn_cereal",
    "brassica_summer",
    "clover_established",
    "clover_frost_seeding",
    "clover_late_summer",
    "corn",
    "feed_round",
    "fence",
    "grain_sorghum",
    "machine_care",
    "native_grass_burn",
    "native_grass_seeding",
    "soil_and_lime",
    "soybean",
    "trail_firebreak",
    "weed_patrol",
    "winter_desk",
}


def sourced_rows(document: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every table of a document that gives a wait, a date, a rate or a limit, with what it is."""
    for step in document["step"]:
        yield f"step {step['key']}", step
        for name in ("deadline", "repeat"):
            if name in step:
                yield f"{name} of {step['key']}", step[name]
        for name in ("limits", "closed_by", "also"):
            for row in step.get(name, []):
                yield f"{name} of {step['key']}", row
        for need in step.get("needs", []):
            if "rate_per_acre" in need:
                yield f"rate of {step['key']}", need
    for link in document.get("link", []):
        yield f"link {link['before']} to {link['after']}", link
    for across in document.get("across", []):
        yield f"across to {across['to']}", across
    for row in [*document.get("link", []), *document.get("across", [])]:
        for other in row.get("also", []):
            yield f"also of {row}", other
    for branch in document.get("branch", []):
        if "option" in branch:
            yield f"last day of {branch['key']}", branch["option"]["last"]
            for row in branch["option"]["closed_by"]:
                yield f"closing of {branch['key']}", row


def test_all_sequences_of_the_year_are_shipped(shipped):
    assert set(shipped.sequences) == NAMES


def test_every_wait_and_date_names_a_known_source(shipped):
    for key, document in shipped.documents.items():
        for what, row in sourced_rows(document):
            assert row.get("source") in shipped.reference.sources, (key, what)
            assert row.get("worth", shipped.reference.sources[row["source"]].worth) in WORTHS, (key, what)


@pytest.mark.parametrize("name", sorted(NAMES))
def test_removing_any_one_source_is_noticed(name, shipped):
    document = shipped.documents[name]
    for number, (what, row) in enumerate(sourced_rows(document)):
        robbed = copy.deepcopy(document)
        robbed_row = list(sourced_rows(robbed))[number][1]
        assert robbed_row == row
        del robbed_row["source"]
        with pytest.raises(SequenceError, match="source") as refused:
            from_document(robbed, shipped.reference)
        assert len(refused.value.faults) == 1, what


def test_no_figure_from_a_common_practice_source_is_called_published(shipped):
    for key, document in shipped.documents.items():
        for what, row in sourced_rows(document):
            own = shipped.reference.sources[row["source"]].worth
            if own != "published":
                assert row.get("worth") != "published", (key, what)


def test_every_hazard_of_every_step_has_cautions_and_who_decides(shipped):
    cautions = shipped.reference.cautions
    assert set(cautions) == set(HAZARDS)
    for caution in cautions.values():
        assert 2 <= len(caution.lines) <= 4
        assert "decide" in caution.decides
    for spec in shipped.sequences.values():
        for step in spec.steps:
            assert set(step.hazards) <= set(cautions), (spec.key, step.key)


def test_dangerous_work_carries_its_hazard(shipped):
    for spec in shipped.sequences.values():
        for step in spec.steps:
            expected = {
                "burn": "fire",
                "patrol": "fire",
                "spray": "pesticide",
                "spot_spray": "pesticide",
                "fence": "electric_fence",
                "check_fence": "electric_fence",
                "open_fence": "electric_fence",
                "mow": "machine",
                "till": "machine",
                "plant": "machine",
            }.get(step.operation)
            assert expected is None or expected in step.hazards, (spec.key, step.key)


def test_a_burn_never_has_fewer_than_two_people(shipped):
    burns = [step for spec in shipped.sequences.values() for step in spec.steps if "fire" in step.hazards]
    assert len(burns) >= 6
    assert min(step.least_crew for step in burns) == 2
    assert any("fewer than two people" in line for line in shipped.reference.cautions["fire"].lines)


def test_burn_comes_before_till_and_spray_before_plant(shipped):
    corn = {(link.before, link.after) for link in shipped.sequences["corn"].links}
    assert {("burn_residue", "till"), ("mow_residue", "till"), ("burndown", "plant"), ("burndown", "till")} <= corn
    groups = {branch.key: branch.group for branch in shipped.sequences["corn"].branches}
    assert groups["burn"] == groups["mow"] == "residue"


def test_a_failed_count_never_undoes_a_built_fence(shipped):
    for name in ("corn", "soybean"):
        spec = shipped.sequences[name]
        assert spec.step("fence").branch is None
        assert spec.step("check_fence").branch is None
        of_failed = {step.key for step in spec.steps if step.branch not in (None, "carry_on", "mow", "burn")}
        assert not [link for link in spec.links if link.before in of_failed and link.after == "fence"]


def test_each_sown_stand_that_can_fail_has_somewhere_to_go(shipped):
    for name in ("corn", "soybean", "grain_sorghum", "clover_frost_seeding", "clover_late_summer", "brassica_summer"):
        spec = shipped.sequences[name]
        failed = [branch for branch in spec.branches if "failed" in branch.outcomes and branch.key == "failed"]
        options = [branch for branch in spec.branches if branch.option is not None]
        assert failed, name
        assert options, name
        assert options[-1].option.last.day is not None
        assert "rye" in " ".join(step.title.lower() for step in spec.steps if step.branch == options[-1].key), name


def test_the_contract_clash_of_the_late_burn_is_told(shipped):
    burn = shipped.sequences["native_grass_burn"]
    assert "15 April" in burn.note
    assert str(burn.step("burn_late").first) == "04-15"
    assert str(burn.step("burn_early").last) == "04-14"
    orders = {branch.key: branch.order for branch in burn.branches if branch.group == "disturb"}
    assert orders == {"late": 1, "early": 2, "disk": 3}


def test_published_waits_stand_as_their_sources_print_them(shipped):
    """agronomy: glyphosate to tillage 7 d for perennials (PNW), clethodim to corn 6 d (Georgia), 2,4-D ester to soybean
    7 d (Illinois), amine 15 d (NDSU), dicamba 28 d after 1 in of rain (Mississippi), permit 30 d (Nebraska 81-520.05),
    rye 10 d before corn (NRCS Iowa), lime at most 2 t and the rest in two to three years (Missouri)."""

    def wait(name: str, before: str, after: str, relation: Relation = Relation.FINISH_START):
        (link,) = [
            row
            for row in shipped.sequences[name].links
            if (row.before, row.after, row.relation) == (before, after, relation)
        ]
        return link

    assert wait("corn", "burndown", "till").minimum.days == 7
    assert wait("corn", "kill_by_spray", "replant_corn").minimum.days == 6
    assert wait("corn", "plant", "look_emergence").minimum.amount == 100
    assert wait("soybean", "burndown_ester", "plant").minimum.days == 7
    assert wait("soybean", "burndown_amine", "plant").minimum.days == 15
    dicamba = wait("soybean", "burndown_dicamba", "plant").minimum
    assert (dicamba.amount, dicamba.then_days) == (1, 28)
    assert wait("native_grass_burn", "permit_late", "burn_late").maximum.days == 30
    rest = wait("soil_and_lime", "lime", "lime_rest")
    assert (rest.minimum.days, rest.maximum.days) == (730, 1095)
    (rye,) = [row for row in shipped.sequences["corn"].across if row.tag == "kill_cover"]
    assert rye.minimum.days == 10


def named_in(table: Any) -> Iterator[str]:
    """Every source that a table of tables names."""
    if isinstance(table, list):
        for row in table:
            yield from named_in(row)
    elif isinstance(table, dict):
        told = table.get("source", table.get("sources", []))
        yield from [told] if isinstance(told, str) else told
        for row in table.values():
            yield from named_in(row)


def test_no_source_is_listed_without_use(shipped):
    used = {row["source"] for document in shipped.documents.values() for _, row in sourced_rows(document)}
    used |= {link.max_source for spec in shipped.sequences.values() for link in spec.links}
    used |= {value.source for crop in shipped.reference.crops.values() for value in crop.values}
    used |= {caution.source for caution in shipped.reference.cautions.values()}
    used |= {limit["source"] for limit in tomllib.loads((FIXTURES / "limits.toml").read_text()).values()}
    for name in ("calculators", "growth", "replant"):
        used |= set(named_in(tomllib.loads((FIXTURES / f"{name}.toml").read_text())))
    used |= {CAP_SOURCE, SHARE_SOURCE, NESTING_SOURCE, ZONE_SOURCE}
    assert set(shipped.reference.sources) - used == set()


def test_a_sequence_that_waits_for_an_unknown_one_is_refused(tmp_path):
    for path in FIXTURES.glob("*.toml"):
        (tmp_path / path.name).write_text(path.read_text())
    (tmp_path / "sequences").mkdir()
    text = (FIXTURES / "sequences" / "corn.toml").read_text()
    (tmp_path / "sequences" / "corn.toml").write_text(text)
    with pytest.raises(SequenceError, match="unknown sequence autumn_cereal"):
        read_folder(tmp_path)
