"""Steps that change land, stores, weather and the clock."""

from __future__ import annotations

from datetime import date, time, timedelta

from core.models import Certificate, Graph, Holding, Skill
from core.services.rows import remove_row, save_row
from jobs.minutes import floor_minute
from plots.forecasts.values import Forecast, HourValues, RainTotal
from plots.models import (
    Consent,
    Contract,
    Day,
    DayKind,
    Machine,
    MachineState,
    Property,
    PropertySeries,
    QuietTime,
    StockMove,
)
from plots.services.forecasts import store_forecast
from plots.services.series import remove_values, save_values
from tests.steps.played import Chosen

ACTIVES = ("glyphosate", "atrazine", "2,4-D ester", "clethodim", "mesotrione", "something new", "")


class LandSteps(Chosen):
    """Each says what it did."""

    def machine(self) -> str:
        machine = self.one(Machine)
        machine.state, machine.until = self.random.choice(MachineState.values), self.random.choice((None, self.day()))
        save_row(row=machine, by=self.manager, fields=["state", "until"])
        return f"{machine} {machine.state} {machine.until}"

    def material(self) -> str:
        material = self.random.choice(self.materials)
        material.active = self.random.choice(ACTIVES)
        save_row(row=material, by=self.manager, fields=["active"])
        return f"{material} is {material.active}"

    def stock(self) -> str:
        material = self.random.choice(self.materials)
        quantity = self.random.choice((-3.0, 0.5, 20.0))
        save_row(
            row=StockMove(holding=self.holding, material=material, quantity=quantity, at=self.now), by=self.manager
        )
        return f"{quantity} of {material}"

    def quiet(self) -> str:
        first, place = self.day(10, 20), self.one(Property)
        row = QuietTime(
            holding=self.holding, property=place, kind=self.random.choice(("closed", "ban")), first_day=first,
            last_day=first + timedelta(days=self.random.randint(0, 9)), reason="hunting",
            operation=self.random.choice(("", "spray")),
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"quiet {row}"

    def contract(self) -> str:
        row = Contract(
            holding=self.holding, property=self.one(Property), practice="cover", first_day=date(2026, 1, 1),
            last_day=date(2030, 1, 1), closed_from="05-01", closed_to=self.random.choice(("05-07", "08-01")),
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"contract {row}"

    def consent(self) -> str:
        given = self.random.choice((None, self.day(5, 5)))
        whose = f"neighbour {self.random.getrandbits(30)}"
        row = Consent(holding=self.holding, property=self.one(Property), whose=whose, given_on=given)
        save_row(row=row, by=self.manager)
        return f"consent of {row}, {given}"

    def weather(self) -> str:
        day, kind = self.day(9, 4), self.random.choice(DayKind.values)
        values = {"high_f": self.random.randint(60, 95), "low_f": self.random.randint(30, 60)}
        values["rain_in"] = self.random.choice((None, 0.0, 0.6, 1.2))
        row = Day.objects.filter(series=self.series, date=day, kind=kind).first()
        row = row or Day(series=self.series, date=day, kind=kind)
        for name, value in values.items():
            setattr(row, name, value)
        save_values(row=row, by=self.manager, fields=sorted(values))
        return f"{kind} {day} {values}"

    def hours(self) -> str:
        """A forecast of some days, fresh or old, with gaps and a wind that makes and breaks windows."""
        issued = self.now - timedelta(hours=self.random.randint(0, 30))
        first = floor_minute(issued) // 60 * 60
        rows, totals = [], []
        for at in range(first, first + 60 * self.random.choice((6, 60, 190)), 60):
            if self.random.random() < 0.03:
                continue
            wind = self.random.choice((2.0, 6.0, 6.0, 6.0, 6.0, 9.0, 14.0))
            rows.append(HourValues(at, temp_f=64.0, dew_point_f=50.0, wind_mph=wind, gust_mph=wind + 3))
            totals.append(RainTotal(at, at + 60, self.random.choice((0.0,) * 40 + (0.4,))))
        stored = store_forecast(
            series_id=self.series.pk, forecast=Forecast(floor_minute(issued), tuple(rows), tuple(totals))
        )
        return f"{len(rows)} hours of {issued}, {'stored' if stored else 'older than what is there'}"

    def quiet_hours(self) -> str:
        place, first = self.one(Property), self.day(5, 5)
        row = QuietTime(
            holding=self.holding, property=place, kind=self.random.choice(("closed", "only")), first_day=first,
            last_day=first + timedelta(days=self.random.randint(0, 9)), from_time=time(9), to_time=time(15),
            reason="gate",
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"quiet hours {row}"

    def take_weather_back(self) -> str:
        days = list(Day.objects.filter(series=self.series).order_by("id"))
        if days:
            remove_values(row=self.random.choice(days), by=self.manager)
        return "a day less"

    def rank(self) -> str:
        ranked = self.one(PropertySeries)
        if ranked is None or self.random.random() < 0.5:
            place = self.one(Property)
            rank = 1 + PropertySeries.objects.filter(property=place).count() + self.random.getrandbits(10)
            if not PropertySeries.objects.filter(property=place, series=self.series).exists():
                row = PropertySeries(holding=self.holding, property=place, rank=rank, series=self.series)
                save_row(row=row, by=self.manager)
        else:
            remove_row(row=ranked, by=self.manager)
        return "another rank of series"

    def tenure(self) -> str:
        place = self.one(Property)
        place.tenure_ends = self.random.choice((None, self.day()))
        save_row(row=place, by=self.manager, fields=["tenure_ends"])
        return f"{place} until {place.tenure_ends}"

    def certificate(self) -> str:
        skill, _ = Skill.objects.get_or_create(holding=self.holding, name="pesticide applicator")
        row = Certificate(holding=self.holding, person=self.manager, skill=skill, valid_from=self.day(20, 3))
        save_row(row=row, by=self.manager)
        return f"certificate from {row.valid_from}"

    def step_clock(self) -> str:
        wake = Graph.objects.get(holding=self.holding).wake_at
        assert wake is not None
        ahead = self.random.choice(
            (timedelta(0), timedelta(minutes=-1), timedelta(hours=self.random.randint(1, 80)), timedelta(days=20))
        )
        self.holding.clock_at = max(self.now, wake + ahead)
        Holding.objects.filter(pk=self.holding.pk).update(clock_at=self.holding.clock_at)
        return f"clock at {self.holding.clock_at}"
