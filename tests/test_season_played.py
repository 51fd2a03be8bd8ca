"""A season played through the API alone: plots come from a file, days pass, reports arrive late and in odd order, a
stand fails, the replant opens, the year rolls over. Each list was written from the links; where a first draft
differed, the definitions were read again and the line says which of them decides.

Land and weather are invented. In brackets stands the source of the wait or date that a line follows.
"""

from __future__ import annotations

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.farm import Farm, holds

pytestmark = [pytest.mark.django_db, pytest.mark.once]

OUTLINES = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[x, 40.0], [x + 0.0015, 40.0], [x + 0.0015, 40.001], [x, 40.001], [x, 40.0]]],
            },
        }
        for name, x in (("Bench", -91.0), ("Hollow", -91.01))
    ],
}

SAMPLE, LIME = ("Sample the soil", "Bench"), ("Spread lime", "Bench")
ORDER_FERTILISER = ("Order phosphorus, potash and nitrogen", "Bench")
ORDER_SEED = ("Order seed and herbicide", "Bench")
RELEASE = ("See that hunting is over and the feed is eaten", "Bench")
MOW, BURNDOWN = ("Mow the old stalks", "Bench"), ("Burndown spray", "Bench")
SPREAD, TILL = ("Spread phosphorus, potash and nitrogen", "Bench"), ("Till the seedbed", "Bench")
RESIDUAL, RAIN = ("Residual spray", "Bench"), ("Did the residual get its rain?", "Bench")
LOOK, FENCE = ("Is the corn up?", "Bench"), ("Fence the corn", "Bench")
CHECK_FENCE, COUNT = ("Check the fence", "Bench"), ("Count the stand", "Bench")
CAUSE = ("Find out why the stand failed, and what was sprayed", "Bench")
BY_TILLAGE = ("Till the poor stand under", "Bench")
BY_SPRAY = ("Kill the poor stand with clethodim", "Bench")
CORN_AGAIN, FENCE_AGAIN = ("Plant corn again", "Bench"), ("Fence hot for the replant", "Bench")
LOOK_AGAIN = ("Look at the replant", "Bench")
SORGHUM = ("Plant grain sorghum instead", "Bench")
MOW_CLOVER, FEED_CLOVER = ("Mow above the clover", "Hollow"), ("Spread phosphorus and potash", "Hollow")
AUTUMN_LOOK, OPEN_FENCE = ("Keep the clover or rotate?", "Hollow"), ("Open or take down the fence", "Bench")
SUMMER_LOOK = ("Do weeds stand above the clover?", "Hollow")
OVERSEED, WALK = ("Frost-overseed thin spots", "Hollow"), ("Walk the clover", "Hollow")


def test_a_season_from_the_soil_sample_to_the_next_year() -> None:
    farm = Farm("2026-10-10 18:00")
    land = farm.place("Two mile")
    gauge = farm.gauge(land)
    file = SimpleUploadedFile("plots.geojson", json.dumps(OUTLINES).encode())
    answer = farm.manager.post("/api/imports/", {"file": file, "kind": "geojson", "property": land}, format="multipart")
    assert answer.status_code == 200, answer.content
    plots = {plot["name"]: plot["id"] for plot in farm.all("plots")}
    skill = farm.post("skills", name="pesticide applicator")["id"]  # sprays ask for one until the product is known
    farm.post(
        "certificates", person=farm.people["Manager"], skill=skill, valid_from="2026-01-01", valid_to="2028-12-31"
    )
    mix = farm.post("materials", name="Residual mix", kind="herbicide", unit="qt", active="atrazine")["id"]
    label = farm.post("labels", material=mix, entry_hours=10, wash_known=True, source="as typed")["id"]
    farm.post("plant-backs", label=label, crop="", days=200)  # typed; without it the clover of next year is asked about
    farm.post("plant-backs", label=label, crop="grain_sorghum", days=0)
    farm.post("stock-moves", material=mix, quantity=20, at="2026-10-01T12:00:00Z")

    def done(job: int, happened: str, **more: str) -> None:
        """Reported as it happens."""
        farm.at(happened)
        farm.done(job, happened, **more)

    def seen(job: int, happened: str, outcome: str) -> None:
        farm.at(happened)
        farm.report(job, "seen", happened, outcome=outcome)

    burner = farm.post("materials", name="Burndown mix", kind="herbicide", unit="qt", active="glyphosate")["id"]
    farm.post("labels", material=burner, entry_hours=4, wash_known=True, source="as typed")
    roles = {"residual herbicide": mix, "burndown herbicide": burner}
    corn = farm.apply("corn", plots["Bench"], 2027, materials=roles)
    clover = farm.apply("clover_established", plots["Hollow"], 2027)
    burn = next(row for row in farm.all("branches") if row["key"] == "burn")
    farm.patch(f"branches/{burn['id']}", called_off=True)  # the manager mows; the other way is off (D10)
    farm.at("2026-10-10 18:05")

    # 10 October: only the sample has no predecessor and is in its days, 1 Sep to 30 Nov [common-practice].
    assert farm.next() == [SAMPLE]
    done(corn["sample_soil"], "2026-10-17 10:00")
    farm.at("2026-10-24 18:00")
    assert farm.next() == []  # both wait for the result, which a look closes and no clock [from-memory, D6]
    seen(corn["lime"], "2026-10-31 12:00", outcome="result_in")
    farm.at("2026-10-31 18:00")
    # Order by 28 Feb, lime by 10 Apr [common-practice; missouri-enm]: the nearer last start first.
    assert farm.next() == [ORDER_FERTILISER, LIME]

    farm.at("2026-11-27 18:00")
    farm.done(corn["order_fertiliser"], "2026-11-07 20:00")  # told three weeks late
    farm.done(corn["lime"], "2026-11-14 12:00")
    assert farm.next() == [ORDER_SEED]  # opens on 1 Dec, within seven days [common-practice]
    farm.at("2027-01-12 18:00")
    farm.done(corn["order_seed"], "2026-12-05 20:00")
    assert farm.next() == [RELEASE]  # from 15 Jan [common-practice]
    done(corn["release"], "2027-01-20 08:00")
    farm.at("2027-01-30 18:00")
    assert farm.next() == [OVERSEED]  # from 1 Feb [common-practice]; the mower's days begin on 15 Feb
    done(clover["overseed"], "2027-02-06 09:00")
    farm.at("2027-02-20 18:00")
    assert farm.next() == [MOW]

    seen(corn["plant"], "2027-03-01 12:00", outcome="delivered")
    done(corn["mow_residue"], "2027-03-13 15:00")
    farm.at("2027-04-03 18:00")
    # Regrowth is looked for [from-memory]; the spread would come more than a day before the till [common-practice].
    assert farm.next() == []
    assert "look" in holds(farm.job(corn["burndown"]))
    seen(corn["burndown"], "2027-04-06 08:00", outcome="regrowth")
    farm.at("2027-04-06 18:00")
    # Corn is planted from 20 Apr on, tilled at most 3 days before and spread at most a day before that
    # [common-practice]: so the spread begins on 15 Apr at the earliest (D1), more than seven days ahead.
    assert farm.next() == [BURNDOWN]
    assert farm.local(farm.job(corn["spread_fertiliser"])["earliest_start"]) == "Thu 15 Apr 20:46"
    done(corn["burndown"], "2027-04-10 11:00")
    farm.at("2027-04-13 18:00")
    assert farm.next() == [WALK, SPREAD]  # the walk from 15 Apr to 15 May [common-practice]; D1: spread from 16 Apr

    # Planted on the 24th, told before till and spread: the question is put once, and the answers come late.
    farm.at("2027-04-24 20:00")
    done(corn["plant"], "2027-04-24 15:00")
    assert holds(farm.job(corn["till"])) == {
        "question": "Reported: Plant corn, Bench. Was this, before it, done, skipped, or still to do?",
        "predecessor": "Waits for: Spread phosphorus, potash and nitrogen, Bench.",
    }
    farm.at("2027-04-25 18:00")
    farm.done(corn["till"], "2027-04-23 17:00")
    farm.done(corn["spread_fertiliser"], "2027-04-23 12:00")
    assert farm.job(corn["till"])["state"] == "done"
    # Residual within 3 days of planting [common-practice], so before the walk.
    assert farm.next() == [RESIDUAL, WALK]
    done(corn["residual"], "2027-04-26 09:00")
    done(clover["walk"], "2027-04-28 18:00", outcome="clean")
    assert farm.job(corn["look_emergence"])["state"] == "held"
    assert "unknown" in holds(farm.job(corn["look_emergence"]))  # no temperatures: not known, so not open

    # 80/60 F is 20 degree days by 86/50 [AGF-101]: five days from 25 Apr make the 100 of karhoff-2023 on the 29th.
    for day in range(25, 30):
        farm.day(gauge, f"2027-04-{day}", 80, 60)
    farm.at("2027-04-30 18:00")
    assert farm.next() == [LOOK, RAIN]  # the rain is asked after 7 days, on 3 May [illinois-1997-05]
    farm.at("2027-05-03 18:00")
    farm.done(corn["look_emergence"], "2027-05-01 12:00", outcome="emerged")
    # Fence by 8 May, two weeks after planting [common-practice]; the rain by 10 May, after 14 days.
    assert farm.next() == [FENCE, RAIN]
    assert farm.local(farm.job(corn["fence"])["latest_start"]) == "Sat 8 May 15:00"
    done(corn["check_residual"], "2027-05-04 18:00", outcome="held")
    done(corn["fence"], "2027-05-06 12:00")
    farm.at("2027-05-09 18:00")
    # The fence is checked 3 to 7 days after it stands [common-practice], the stand counted from 15 May [ncsu-stand].
    assert farm.next() == [CHECK_FENCE, COUNT]
    done(corn["check_fence"], "2027-05-10 12:00")
    farm.at("2027-05-15 18:00")
    assert farm.next() == [COUNT, CHECK_FENCE]  # the next check 7 days after the last one done [wildlife-helpline]

    # The stand fails: what goes on with it is called off, the replant is called for (D11). The fence stays.
    done(corn["stand_count"], "2027-05-16 10:00", outcome="failed")
    farm.at("2027-05-16 18:00")
    assert farm.job(corn["post_spray"])["state"] == "called_off"
    assert farm.job(corn["fence"])["state"] == "done"
    assert farm.next() == [CAUSE, CHECK_FENCE]
    done(corn["find_cause"], "2027-05-17 10:00")
    farm.at("2027-05-17 18:00")
    # Till it under or spray it [nebraska-2008-06], until corn could no longer follow by 15 Jun [isu-pm1885]: after
    # clethodim it waits 6 days [uga-prostko-2022], after tillage none, so the spray's last start is nearer (D9, D10).
    assert farm.next() == [BY_SPRAY, BY_TILLAGE, CHECK_FENCE]
    done(corn["kill_by_tillage"], "2027-05-22 12:00")
    farm.at("2027-05-22 18:00")
    assert farm.job(corn["kill_by_spray"])["state"] == "called_off"
    # Corn again until 15 Jun [isu-pm1885], sorghum until 1 Jul [sorghum-bean-2020]: after atrazine both may follow.
    # The check of the fence is the one of 17 May, until 15 Nov [wildlife-helpline].
    assert farm.next() == [CORN_AGAIN, SORGHUM, CHECK_FENCE]
    # Atrazine closes soybean until next year; brassica and rye ask for a written reason [atrazine-label-quoted, G8].
    soybean = farm.why(corn["replant_soybean"])
    assert (soybean["state"], soybean["notes"]) == (
        "called_off",
        ["What it belongs to is closed by what was sprayed: atrazine. The label decides."],
    )
    for step in ("replant_brassica", "give_up_to_cover"):
        option = farm.job(corn[step])
        assert option["state"] == "held"
        sprayed = [hold for hold in option["holds"] if hold["kind"] == "sprayed"]
        assert [hold["source"] for hold in sprayed] == ["atrazine-label-quoted"]
        assert sprayed[0]["sentence"].startswith("Atrazine was sprayed here on Mon 26 Apr.")
        assert sprayed[0]["sentence"].endswith("The label decides.")
    done(corn["replant_corn"], "2027-05-25 12:00")
    farm.at("2027-05-26 18:00")
    # Fence hot within 7 days of the replant; looked at after 7 days, on 1 Jun [common-practice].
    # The clover is looked at again from 1 Jun on [common-practice].
    assert farm.next() == [FENCE_AGAIN, CHECK_FENCE, LOOK_AGAIN, SUMMER_LOOK]

    assert farm.job(corn["replant_sorghum"])["state"] == "called_off"  # a sibling was done (D10)

    def check_of_fence(number: int) -> int:
        (found,) = [
            j
            for j in farm.all("jobs", operation="check_fence")
            if (j["step"], j["occurrence"]) == ("check_fence", number)
        ]
        pk: int = found["id"]
        return pk

    done(corn["fence_again"], "2027-05-28 12:00")
    done(check_of_fence(2), "2027-05-29 12:00")
    done(corn["look_again"], "2027-06-03 10:00", outcome="good")
    farm.at("2027-06-03 18:00")
    # The clover's look is open until 31 Jul [tennessee-harper-2022]; the fence is checked again on 5 Jun.
    assert farm.next() == [SUMMER_LOOK, CHECK_FENCE]
    done(clover["summer_look"], "2027-06-10 09:00", outcome="weeds_on_top")
    farm.at("2027-06-10 18:00")
    # Weeds on top call for a mowing within 14 days of the look [common-practice, D11].
    assert farm.next() == [MOW_CLOVER, CHECK_FENCE]
    assert farm.job(clover["mow"])["start_by"] == "2027-06-24"
    done(clover["mow"], "2027-06-12 10:00")
    farm.at("2027-06-12 18:00")
    assert farm.next() == [CHECK_FENCE]
    farm.at("2027-07-06 18:00")
    assert farm.next() == [
        CHECK_FENCE,
        MOW_CLOVER,
    ]  # 30 days after the last, on 12 Jul, twice at most [common-practice]
    (again,) = [job for job in farm.all("jobs", operation="mow") if job["occurrence"] == 2]
    farm.at("2027-07-13 20:00")
    farm.report(again["id"], "skipped", "2027-07-13 18:00")
    farm.at("2027-09-10 18:00")
    # Clover is fed by 30 Sep; its look and the opening of the fence begin on 15 Sep, due 15 Nov and 15 Dec
    # [common-practice]. What is open goes before what opens within seven days.
    assert farm.next() == [FEED_CLOVER, CHECK_FENCE, AUTUMN_LOOK, OPEN_FENCE]
    done(clover["spread"], "2027-09-12 10:00")
    done(clover["autumn_look"], "2027-09-20 10:00", outcome="keep")
    done(corn["open_fence"], "2027-09-25 10:00")
    farm.post(f"jobs/{check_of_fence(3)}/call-off", status=200)
    farm.at("2027-09-25 18:00")
    assert farm.next() == []  # the fence is stored from 1 Dec on [common-practice]

    # The year rolls over and the two plots swap.
    swaps = [{"from": plots["Bench"], "to": plots["Hollow"]}, {"from": plots["Hollow"], "to": plots["Bench"]}]
    body = {"from_year": 2027, "to_year": 2028, "swaps": swaps}
    seasons = farm.post("seasons/roll-over", **body)["seasons"]
    assert [(season["label"], season["plot"]) for season in seasons] == [
        ("Corn 2028", plots["Hollow"]),
        ("Established clover, the year round 2028", plots["Bench"]),
    ]
    corn = farm.steps(seasons[0]["id"])
    farm.at("2027-10-05 18:00")
    assert farm.next() == [("Sample the soil", "Hollow")]  # from 1 Sep to 30 Nov, as a year ago
    done(corn["sample_soil"], "2027-10-09 10:00")
    farm.at("2027-12-02 18:00")
    # Seed by 28 Feb, the fence stored by 15 Mar [common-practice]; lime and fertiliser wait for the result of the soil,
    # whatever the clock says (D6), and fire for a burn boss on the books.
    assert farm.next() == [("Order seed and herbicide", "Hollow"), ("Coil and store the fence", "Bench")]
    assert holds(farm.job(corn["pencil_residue_burn"])) == {"skill": "Nobody with a valid certificate: burn boss."}
    assert "look" in holds(farm.job(corn["lime"]))
    farm.at("2028-01-28 18:00")
    # The old stalks' gate from 15 Jan to 31 Mar; the clover, on the other plot now, from 1 Feb on [common-practice].
    assert farm.next() == [
        ("Order seed and herbicide", "Hollow"),
        ("Coil and store the fence", "Bench"),
        ("See that hunting is over and the feed is eaten", "Hollow"),
        ("Frost-overseed thin spots", "Bench"),
    ]
