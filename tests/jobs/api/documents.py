"""A small sequence of the tests' own."""

from typing import Any


def strip_of_oats(**head: Any) -> dict[str, Any]:
    """Till, then sow oats within 14 days; if the stand fails, mow it off. Days of April and May."""
    common = {"source": "common-practice"}
    document: dict[str, Any] = {
        "key": "oat_strip",
        "version": 1,
        "name": "Oat strip",
        "purpose": "A strip of oats beside the trail.",
        "habitat": "cover",
        "region": "Nowhere in particular.",
        "season": {"from": "04-01", "to": "06-30"},
        "step": [
            {**common, "key": "till", "operation": "till", "title": "Till the strip", "instruction": "Twice over.",
             "from": "04-01", "to": "04-30"},
            {**common, "key": "sow", "operation": "sow", "title": "Sow oats", "instruction": "Shallow.",
             "from": "04-05", "to": "05-10", "needs": [{"material": "seed", "role": "oat seed"}]},
            {**common, "key": "look", "operation": "check_stand", "title": "Look at the stand", "instruction": "Count.",
             "from": "05-01", "to": "06-10", "outcomes": ["good", "failed"]},
            {**common, "key": "mow_off", "operation": "mow", "title": "Mow it off", "instruction": "Low.",
             "from": "05-01", "to": "06-30", "branch": "give_up"},
        ],
        "link": [
            {**common, "before": "till", "after": "sow", "min": "1 days", "max": "14 days"},
            {**common, "before": "sow", "after": "look", "min": "10 days"},
            {**common, "before": "look", "after": "mow_off"},
        ],
        "branch": [{"key": "give_up", "name": "Give it up", "opened_by": "look", "outcomes": ["failed"]}],
    }  # fmt: skip
    return {**document, **head}
