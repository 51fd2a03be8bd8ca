"""Plain sentences from codes: holds, states, deadlines. Pure; no code leaves the program without its sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from jobs.holds import Clearing, Hold, HoldKind

STATES = {
    "done": "done",
    "called_off": "called off",
    "under_way": "under way",
    "not_called_for": "not called for",
    "lapsed": "too late",
    "held": "held",
    "open": "open",
}


@dataclass(frozen=True, slots=True)
class Names:
    """The words that a holding's ids stand for, with its zone and the year that needs no mention."""

    zone: str
    year: int
    jobs: Mapping[int, str] = field(default_factory=dict)
    machines: Mapping[int, str] = field(default_factory=dict)
    materials: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    observations: Mapping[str, str] = field(default_factory=dict)
    confirms: Mapping[str, str] = field(default_factory=dict)

    def job(self, pk: int | None) -> str:
        return self.jobs.get(pk or 0, "another job")

    def day(self, minute: int) -> str:
        """ "Sat 9 May", with the year where it is another one."""
        return _day(self.zone, self.year, minute)

    def instant(self, minute: int) -> str:
        """ "Sat 9 May", and the hour where it is not midnight."""
        local = datetime.fromtimestamp(minute * 60, ZoneInfo(self.zone))
        return self.day(minute) + ("" if (local.hour, local.minute) == (0, 0) else f" {local:%H:%M}")


@lru_cache(maxsize=16_384)
def _day(zone: str, this_year: int, minute: int) -> str:
    local = datetime.fromtimestamp(minute * 60, ZoneInfo(zone))
    year = "" if local.year == this_year else f" {local.year}"
    return f"{local:%a} {local.day} {local:%b}{year}"


def _predecessor(hold: Hold, names: Names) -> str:
    others = [names.job(pk) for pk in hold.inputs.get("or", ())]
    first = names.job(hold.inputs["predecessor"])
    if others:
        return f"Waits for one of these: {'; '.join([first, *others])}."
    return f"Waits for: {first}" + ("." if hold.inputs.get("end") == "done" else ", to be begun.")


def _lag(hold: Hold, names: Names) -> str:
    at = hold.clears.at or 0
    before = names.job(hold.inputs["predecessor"])
    anchor = hold.inputs["since"]
    since = names.day(anchor)
    expected = f"Expected by {names.instant(at)}."
    if "likely" in hold.inputs:
        first, last = names.day(at - 1), names.day(hold.inputs["likely"] - 1)
        expected = f"Expected {first} to {last}; look by the evening of {last}."
    if hold.clears.predicted and "counted" not in hold.inputs:
        return f"Waits until {names.instant(at)}: {before} is under way, expected to end by {names.instant(anchor)}."
    if hold.clears.predicted:
        counted, need = hold.inputs.get("counted"), hold.inputs["need"] / 100
        have = "" if counted is None else f"{counted / 100:.0f} of "
        return f"Waits {have}{need:.0f} degree days after: {before} ({since}). {expected}"
    return f"Waits until {names.instant(at)} after: {before} ({since})."


def _look(hold: Hold, names: Names) -> str:
    due = hold.inputs.get("due")
    what = names.confirms.get(hold.rule, "")
    seen = f" until {names.observations[what]}" if what in names.observations else ""
    when = "" if due is None else f" Look from {names.day(due)} on."
    if hold.inputs.get("in_vain") and due is not None:
        when = f" The last look was in vain. Look again on {names.day(due)}."
    elif "likely" in hold.inputs:
        when = f" Look by the evening of {names.day(hold.inputs['likely'] - 1)}."
    return f"Waits{seen}; a look closes it, no clock does.{when}"


def _unknown(hold: Hold, names: Names) -> str:
    return (
        "Not known, so not open: no temperatures reach far enough. Give the property a weather series or type them in."
    )


def _material(hold: Hold, names: Names) -> str:
    name, unit = names.materials.get(hold.inputs["material"], ("material", ""))
    return f"Too little {name}: needs {hold.inputs['needed']:g} {unit}, in stock {hold.inputs['stock']:g}."


def _machine(hold: Hold, names: Names) -> str:
    name = names.machines.get(hold.inputs["machine"], hold.inputs["kind"])
    words = {"down": "is down", "on_loan": "is on loan", "hired": "is no longer hired"}
    when = f" until {names.day(hold.clears.at)}" if hold.clears.at is not None else ", no date"
    return f"{name} {words.get(hold.inputs['state'], 'is not here')}{when}."


def _was(name: str) -> str:
    """ "Atrazine was", "Atrazine and S-metolachlor were"."""
    return f"{name} {'were' if ' and ' in name else 'was'}"


def _sprayed(hold: Hold, names: Names) -> str:
    note = f" {hold.inputs['note']}" if hold.inputs.get("note") else ""
    when = names.day(hold.inputs["at"])
    active = hold.inputs["active"]
    return f"{_was(active[:1].upper() + active[1:])} sprayed here on {when}.{note} The label decides."


def _trouble(hold: Hold, names: Names) -> str:
    reason = hold.inputs["reason"]
    if reason in names.observations:
        return f"Looked on {names.day(hold.inputs['at'])}: {names.observations[reason]}. It is asked for again."
    return f"Could not be done on {names.day(hold.inputs['at'])}: {REASONS.get(reason, reason or 'no reason given')}."


REASONS = {
    "weather": "the weather", "wind": "wind", "rain": "rain", "wet": "wet ground", "frost": "frost", "heat": "heat",
    "machine": "a machine", "material": "missing material", "access": "no way in", "people": "nobody there",
    "other": "another reason",
}  # fmt: skip


def _entry(hold: Hold, names: Names) -> str:
    if hold.clears.at is None:
        return f"Being sprayed: {names.job(hold.inputs['spray'])}. Nobody else enters."
    name, _ = names.materials.get(hold.inputs["material"], ("material", ""))
    return (
        f"Sprayed until {names.instant(hold.inputs['since'])}; {name} closes it for {hold.inputs['hours']:g} h."
        f" Nobody enters before {names.instant(hold.clears.at)}."
    )


def _label(hold: Hold, names: Names) -> str:
    if "material" not in hold.inputs:
        return _unnamed_spray(hold, names)
    name, _ = names.materials.get(hold.inputs["material"], ("material", ""))
    if "crop" in hold.inputs:
        when, crop = names.day(hold.inputs["since"]), hold.inputs["crop"] or "another crop"
        return f"{_was(name)} sprayed here on {when}. Not known when {crop} may follow: type the label's wait."
    if "spray" in hold.inputs:
        when = names.instant(hold.inputs["since"])
        return f"{_was(name)} sprayed here until {when}. Not known when anybody may enter: type the label's entry time."
    return f"Type the label's entry time of {name} first."


def _unnamed_spray(hold: Hold, names: Names) -> str:
    since = hold.inputs["since"]
    if "crop" in hold.inputs:
        what, when = f"when {hold.inputs['crop'] or 'another crop'} may follow", f"On {names.day(since)}"
    else:
        what, when = "when anybody may enter", f"Until {names.instant(since)}"
    return f"{when} there was a spray whose product nobody named. Not known {what}: name its product."


def _label_wait(hold: Hold, names: Names) -> str:
    told = hold.inputs
    if "crop" not in told:
        return f"Sprayed on {names.day(told['since'])}: the label asks for {told['days']:g} days before this."
    crop = told["crop"] or "another crop"
    name, _ = names.materials.get(told["material"], ("material", ""))
    asks = f"{_was(name)} sprayed here on {names.day(told['since'])}: the label asks for {told['days']:g} days"
    if "rain_in" not in told:
        return f"{asks} before {crop}."
    begins = f"from {names.day(told['begun'] - 1)} on" if "begun" in told else "and they have not begun"
    return f"{asks} before {crop}, counted after a day with {told['rain_in']:g} in of rain, {begins}."


def _food_plot_cap(hold: Hold, names: Names) -> str:
    told = hold.inputs
    if "most" in told:
        if told["most"] is None:
            return "Type the acres of the field: the contract allows a share of them as food plots."
        return f"Food plots here are {told['acres']:g} acres; the contract allows {told['most']:g}."
    least = [
        f"{value:g} {unit}"
        for value, unit in ((told["least_acres"], "acres"), (told["least_width_ft"], "ft of width"))
        if value is not None
    ]
    acres = "unknown acres" if told["acres"] is None else f"{told['acres']:g} acres"
    width = "a width that nobody typed" if told["width_ft"] is None else f"{told['width_ft']:g} ft of width"
    mine = acres if told["least_width_ft"] is None else f"{acres} and {width}"
    return f"A food plot under the contract has at least {' and '.join(least)}; this one has {mine}."


def _exclusion_zone(hold: Hold, names: Names) -> str:
    told = hold.inputs
    who = f"{names.job(told['other'])}: others are {'there now' if told['begun'] else 'sent there'}"
    far = "nobody knows how far away (draw both outlines)" if told["feet"] is None else f"{told['feet']:g} ft away"
    return (
        f"{who} until {names.instant(told['until'])}, {far}. Nobody but the crew of the spray is within"
        f" {told['radius_ft']:g} ft while it goes, across the property line too."
    )


def _tolerance(hold: Hold, names: Names) -> str:
    told = hold.inputs
    lots = ", ".join(told["lots"])
    if told["blocked"] is None or not told["free"]:
        return f"No {told['active']} here: the crop does not stand it, or its lot is not known (lot {lots})."
    acres = f"{told['blocked']:g} of {told['planted']:g} acres"
    if told["drawn"]:
        return f"No {told['active']} on {acres} (lot {lots}). Set the job's acres to {told['free']:g} to do the rest."
    return f"No {told['active']} on {acres} (lot {lots}), and on none of them until the strip is drawn."


def _tank(hold: Hold, names: Names) -> str:
    name, _ = names.materials.get(hold.inputs["material"], ("material", ""))
    crop = hold.inputs["crop"] or "this spray"
    if not hold.inputs["known"]:
        return f"The sprayer carries {name} since {names.day(hold.inputs['since'])}; not known what it may spray next."
    return f"The sprayer carries {name} since {names.day(hold.inputs['since'])}: wash it before {crop}."


def _season_total(hold: Hold, names: Names) -> str:
    told = hold.inputs
    most = f"the label allows {told['most']:g} {told['unit']} an acre in {told['year']}"
    if told["sum"] is None:
        return f"Not known how much {told['active']} this makes: type rates and contents; {most}."
    return f"With this it would be {told['sum']:g} {told['unit']} of {told['active']} an acre; {most}."


def _purpose(hold: Hold, names: Names) -> str:
    if hold.inputs["purpose"]:
        return f"No mowing for looks under the contract ({hold.inputs['practice']}), at any time of the year."
    return f"Say what the mowing is for: the contract ({hold.inputs['practice']}) allows none for looks."


def _firebreak(hold: Hold, names: Names) -> str:
    told = hold.inputs
    if told["least_ft"] is None:
        return "Not known whether the firebreak is wide enough: type the fuel's height, the width, the state's least."
    width = "not measured" if told["width_ft"] is None else f"{told['width_ft']:g} ft wide"
    return f"The firebreak is {width}; {told['least_ft']:g} ft are needed beside fuel of {told['fuel_ft']:g} ft."


def _permit(hold: Hold, names: Names) -> str:
    told = hold.inputs
    if told["needed"] is None:
        return "Ask whether a burn permit is needed here, and type the answer."
    if told["lacks"]:
        return f"The burn permit lacks: {', '.join(told['lacks'])}."
    if hold.clears.at is not None:
        return f"The burn permit is valid from {names.day(hold.clears.at)} on."
    return f"The burn permit ended with {names.day(told['ended'] - 1)}."


def _crew(hold: Hold, names: Names) -> str:
    told = hold.inputs
    if told["least"] is None:
        return "Type the least crew of the burn plan."
    boss = "" if told["boss"] else " Name the burn boss."
    if told["boss"] and not told["boss_comes"]:
        boss = " The burn boss is not among them."
    return f"The plan needs a crew of {told['least']}; {told['crew']} confirmed.{boss}"


def _stand(hold: Hold, names: Names) -> str:
    told = hold.inputs
    when = names.instant(told["since"])
    water = f"The plot was reported under water ({when})."
    if told["by"] == "gauge":
        stage, level = f"{told['stage_ft']:g} ft", f"{told['level_ft']:g} ft"
        water = f"The river stood at {stage} ({when}); the plot is under water from {level}."
    return f"{water} The stand is presumed lost until somebody has seen it."


SENTENCES: Mapping[HoldKind, Callable[[Hold, Names], str]] = {
    HoldKind.PREDECESSOR: _predecessor,
    HoldKind.LAG: _lag,
    HoldKind.LOOK: _look,
    HoldKind.RAIN: lambda h, n: (
        f"Waits for {h.inputs['need'] / 100:g} in of rain on one day after: {n.job(h.inputs['predecessor'])}."
    ),
    HoldKind.UNKNOWN: _unknown,
    HoldKind.SEASON: lambda h, n: f"Its days begin on {n.day(h.clears.at or 0)}.",
    HoldKind.CONTRACT: lambda h, n: f"Closed season of the contract ({h.inputs['reason']}). The contract decides.",
    HoldKind.QUIET: lambda h, n: f"Quiet days: {h.inputs['reason']}. Nobody enters.",
    HoldKind.BAN: lambda h, n: f"Closed by the manager: {h.inputs['reason']}.",
    HoldKind.TENURE: lambda h, n: f"The right to work this land ended on {n.day(h.inputs['from'] - 1)}.",
    HoldKind.NO_FIT: lambda h, n: (
        f"It does not fit before its days close; {h.inputs['minutes'] / 60:.1f} h are needed in one go."
        if h.clears.how is Clearing.AT
        else "No day is left on which it may be done."
    ),
    HoldKind.TOO_EARLY: lambda h, n: (
        f"Too early: what follows must come soon after it. Not before {n.instant(h.clears.at or 0)}."
    ),
    HoldKind.QUESTION: lambda h, n: (
        f"Reported: {n.job(h.inputs['successor'])}. Was this, before it, done, skipped, or still to do?"
    ),
    HoldKind.TROUBLE: _trouble,
    HoldKind.MACHINE: _machine,
    HoldKind.MATERIAL: _material,
    HoldKind.SPRAYED: _sprayed,
    HoldKind.SKILL: lambda h, n: f"Nobody with a valid certificate: {h.inputs['skill']}.",
    HoldKind.CONSENT: lambda h, n: f"Needs the yes of {h.inputs['whose']}.",
    HoldKind.PAUSED: lambda h, n: f"Set aside: the other way was begun ({n.job(h.inputs['started'])}).",
    HoldKind.ENTRY: _entry,
    HoldKind.LABEL: _label,
    HoldKind.LABEL_WAIT: _label_wait,
    HoldKind.TOLERANCE: _tolerance,
    HoldKind.TANK: _tank,
    HoldKind.SEASON_TOTAL: _season_total,
    HoldKind.FOOD_PLOT_CAP: _food_plot_cap,
    HoldKind.YEARLY_SHARE: lambda h, n: (
        f"With this {h.inputs['acres']:g} acres would be disturbed in {h.inputs['year']}; the contract allows "
        f"{h.inputs['most']:g}, firebreaks counted."
        if h.inputs["most"] is not None and h.inputs["acres"] is not None
        else "Type the acres under contract and of the jobs: the contract allows a share of them in a year."
    ),
    HoldKind.PURPOSE: _purpose,
    HoldKind.FIREBREAK: _firebreak,
    HoldKind.PERMIT: _permit,
    HoldKind.CREW: _crew,
    HoldKind.SIGNS: lambda h, n: (
        f"The label closes it for {h.inputs['hours']:g} h, so signs go up first and come down after."
    ),
    HoldKind.AGENCY: lambda h, n: "Ask the state wildlife agency for this season and type the day and the county.",
    HoldKind.LONE_WORK: lambda h, n: (
        "One person alone: agree a time between check-ins and name who waits for them, on the job's sheet or once for"
        " the whole holding, or send a second."
    ),
    HoldKind.EXCLUSION_ZONE: _exclusion_zone,
    HoldKind.STAND: _stand,
    HoldKind.CONTRADICTION: lambda h, n: (
        "Its waits contradict one another: the least is longer than the longest allowed. A manager has to change one."
    ),
}


def sentence(hold: Hold, names: Names) -> str:
    """Why the job cannot go now, in one sentence or two."""
    return SENTENCES[hold.kind](hold, names)


def clearing(hold: Hold, names: Names) -> str:
    """When or how the hold clears."""
    clears = hold.clears
    if clears.how is Clearing.AT:
        expected = "expected " if clears.predicted else ""
        return f"Clears {expected}{names.instant(clears.at or 0)}."
    if clears.how is Clearing.REPORT:
        whose = f" on: {names.job(clears.job)}" if clears.job is not None else ""
        words = {
            "done": "a report that it is done",
            "start": "a report that it is begun",
            "seen": "a look, reported",
            "weather": "temperatures, imported or typed in",
            "rain": "rain in the gauge",
            "stock": "more in stock",
            "machine": "word that it works again",
            "sprayer_washed": "word that the sprayer is washed",
            "strips_drawn": "word that the strips are drawn",
            "stand": "a look at the stand",
        }
        return f"Clears by {words.get(clears.report, 'a report: ' + clears.report.replace('_', ' '))}{whose}."
    if clears.how is Clearing.DECISION:
        return "A manager settles it." if clears.who == "manager" else f"Clears when {clears.who} says yes."
    return "Does not clear."
