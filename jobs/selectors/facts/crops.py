"""Which crop a sowing puts into the ground: the season's, unless the job itself says otherwise."""

from __future__ import annotations

from collections.abc import Collection

from jobs.reference import reference

COVER = "sow_cover"
"""Tag of a sowing whose crop is not the season's."""


def crop_sown(step: str, tags: Collection[str], named: str) -> str:
    """The key of the crop of a sowing in a season of the crop `named`: a replant names its own in its step; "" where
    nobody says which."""
    return replanted(step) or ("" if COVER in tags else named)


def replanted(step: str) -> str:
    """The crop that a replant's step names ("replant_sorghum"), "" for other steps."""
    word = step.removeprefix("replant_") if step.startswith("replant_") else ""
    return next((key for key in reference().crops if word and word in (key, key.removeprefix("grain_"))), "")
