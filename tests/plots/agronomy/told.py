"""Entries that make sense, one set for every calculator."""

from typing import Any

TOLD: dict[str, dict[str, Any]] = {
    "machine-hours": {"width": "11 ft 3 in", "speed": 5.5, "efficiency": 85, "acres": 3},
    "travel-speed": {"course": 150, "seconds": 19.7},
    "sprayer-output": {"flow": 0.4, "pressure": 20, "spacing": 20, "speed": 6, "nozzles": 12, "wanted": 15},
    "sprayer-catch": {"spacing": 12, "ounces": 26, "course": 300, "seconds": 50},
    "sprayer-tanks": {"acres": 40, "output": 15, "tank": 500, "products": [{"name": "A", "rate": "1 qt/ac"}]},
    "spray-rate": {"active": 0.75, "strength": 3, "acres": 3},
    "seed": {"purity": 98, "germination": 92, "dormant": 5, "rate": 3, "acres": 2.5, "bag": 25},
    "planter": {"row": 30, "stand": 28_000, "emergence": 95, "acres": 3.2, "bag": 80_000},
    "stand-count": {"row": 30, "counts": "27 25 28", "dropped": 30_000, "acres": 20},
    "stand-walk": {"row": 30, "walked": 100},
    "fertiliser": {
        "nitrogen": 180, "phosphate": 60, "potash": 80, "acres": 2,
        "materials": [{"analysis": "18-46-0"}, {"analysis": "46-0-0"}, {"analysis": "0-0-60"}],
    },
    "fertiliser-mix": {"materials": [{"analysis": "18-46-0", "amount": 50}, {"analysis": "0-0-60", "amount": 50}]},
    "lime": {"measure": "enm", "required": 1200, "product_enm": 400, "acres": 3},
    "fence": {"acres": 1, "gates": 1},
    "degree-days": {"days": [{"high": 90, "low": 65}, {"high": 72, "low": 46}]},
    "feed-round": {"feeders": 2, "rate": 4, "days": 14},
}  # fmt: skip
