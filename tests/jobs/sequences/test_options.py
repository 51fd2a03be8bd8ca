from datetime import date

from jobs.sequences.options import closed_by


def option(shipped, key: str):
    (branch,) = [branch for branch in shipped.sequences["corn"].branches if branch.key == key]
    return branch.option.closed_by


def test_atrazine_closes_soybean_this_season_and_leaves_sorghum_open(shipped):
    sprayed = [("Atrazine", date(2027, 5, 2))]
    (closed,) = closed_by(option(shipped, "again_soybean"), sprayed, date(2027, 6, 8))
    assert closed.until is None
    assert closed.source == "atrazine-label-quoted"
    assert "Atrazine was sprayed on 02 May 2027: closed this season." in closed.sentence
    assert closed_by(option(shipped, "again_sorghum"), sprayed, date(2027, 6, 8)) == ()


def test_clethodim_keeps_corn_out_for_six_days_and_no_longer(shipped):
    sprayed = [("clethodim", date(2027, 6, 1))]
    (closed,) = closed_by(option(shipped, "again_corn"), sprayed, date(2027, 6, 6))
    assert closed.until == date(2027, 6, 7)
    assert closed_by(option(shipped, "again_corn"), sprayed, date(2027, 6, 7)) == ()


def test_an_active_that_no_list_names_closes_until_its_label_is_read(shipped):
    (closed,) = closed_by(option(shipped, "again_corn"), [("unheard-of", date(2027, 5, 2))], date(2027, 6, 8))
    assert closed.until is None
    assert "closed until its label has been read" in closed.sentence
    assert closed.source == "wisconsin-npm-2015"


def test_a_list_without_figures_is_no_yes():
    (closed,) = closed_by((), [("glyphosate", date(2027, 5, 2))], date(2027, 6, 8))
    assert "no wait for it is known" in closed.sentence


def test_several_closings_come_in_the_order_of_their_days(shipped):
    sprayed = [("mesotrione", date(2027, 5, 20)), ("atrazine", date(2027, 5, 2)), ("glyphosate", date(2027, 4, 9))]
    closed = closed_by(option(shipped, "again_soybean"), sprayed, date(2027, 6, 8))
    assert [one.active for one in closed] == ["atrazine", "mesotrione"]


def test_the_clock_of_dicamba_starts_only_after_an_inch_of_rain(shipped):
    """Mississippi State: 28 days before soybean at the higher rate, counted from 1 in of rain."""
    soybean, sprayed = option(shipped, "again_soybean"), [("dicamba", date(2027, 5, 3))]
    (dry,) = closed_by(soybean, sprayed, date(2027, 7, 1))
    assert dry.until is None
    assert "28 days after 1 in of rain, not seen yet" in dry.sentence
    rained = {1.0: date(2027, 5, 10)}
    (wet,) = closed_by(soybean, sprayed, date(2027, 6, 6), lambda day, inches: rained[inches])
    assert wet.until == date(2027, 6, 7)
    assert closed_by(soybean, sprayed, date(2027, 6, 7), lambda day, inches: rained[inches]) == ()
