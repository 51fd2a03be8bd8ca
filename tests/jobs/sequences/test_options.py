from jobs.sequences.options import closed_by

DAY = 1440
SPRAYED = 500 * DAY + 615


def option(shipped, key: str):
    (branch,) = [branch for branch in shipped.sequences["corn"].branches if branch.key == key]
    return branch.option.closed_by


def test_atrazine_closes_soybean_this_season_and_leaves_sorghum_open(shipped):
    (closed,) = closed_by(option(shipped, "again_soybean"), [("Atrazine", SPRAYED)])
    assert (closed.until, closed.firm, closed.source) == (None, True, "atrazine-label-quoted")
    assert closed_by(option(shipped, "again_sorghum"), [("Atrazine", SPRAYED)]) == ()


def test_after_atrazine_a_cover_asks_for_a_written_reason(shipped):
    (closed,) = closed_by(option(shipped, "autumn_cover"), [("atrazine", SPRAYED)])
    assert (closed.until, closed.firm) == (None, False)
    assert "a written reason with the label in hand" in closed.note
    (rye,) = closed_by(shipped.sequences["corn"].step("overseed_rye").closed_by, [("atrazine", SPRAYED)])
    assert (rye.until, rye.firm) == (None, False)


def test_clethodim_keeps_corn_out_for_six_days_to_the_minute(shipped):
    """Georgia 2022: clethodim 6 days before corn."""
    (closed,) = closed_by(option(shipped, "again_corn"), [("clethodim", SPRAYED)])
    assert (closed.until, closed.firm) == (SPRAYED + 6 * DAY, False)


def test_an_active_that_no_option_names_closes_until_its_label_is_read(shipped):
    for key in ("again_corn", "again_soybean", "again_sorghum", "again_brassica", "autumn_cover"):
        (closed,) = closed_by(option(shipped, key), [("unheard-of", SPRAYED)])
        assert (closed.until, closed.firm, closed.source) == (None, False, "wisconsin-npm-2015"), key


def test_glyphosate_closes_no_replant(shipped):
    for key in ("again_corn", "again_soybean", "again_sorghum", "again_brassica", "autumn_cover"):
        assert closed_by(option(shipped, key), [("glyphosate", SPRAYED)]) == (), key


def test_several_closings_come_in_the_order_of_their_sprays(shipped):
    sprayed = [("mesotrione", SPRAYED + 18 * DAY), ("atrazine", SPRAYED), ("glyphosate", SPRAYED - 20 * DAY)]
    assert [one.active for one in closed_by(option(shipped, "again_soybean"), sprayed)] == ["atrazine", "mesotrione"]


def test_the_clock_of_dicamba_starts_only_after_an_inch_of_rain(shipped):
    """Mississippi State: 28 days before soybean at the higher rate, counted from 1 in of rain."""
    soybean, sprayed = option(shipped, "again_soybean"), [("dicamba", SPRAYED)]
    (dry,) = closed_by(soybean, sprayed)
    assert (dry.until, dry.firm) == (None, False)
    rained = {1.0: 509 * DAY}
    (wet,) = closed_by(soybean, sprayed, lambda at, inches: rained[inches])
    assert wet.until == 537 * DAY
