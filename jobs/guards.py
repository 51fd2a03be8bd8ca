"""Guards of the plan and of the people who work on it, beside those of the holding's border."""

from core.guards import Guard, append_only

NO_CYCLE = Guard(
    name="jobs_prerequisite_no_cycle",
    table="jobs_prerequisite",
    on=("INSERT", "UPDATE OF predecessor_id, successor_id"),
    forbidden=(
        # a row that left again in its own transaction closes nothing
        "EXISTS (SELECT 1 FROM jobs_prerequisite WHERE id = NEW.id AND predecessor_id = NEW.predecessor_id"
        " AND successor_id = NEW.successor_id) AND EXISTS ("
        "WITH RECURSIVE follower(id) AS (SELECT NEW.successor_id UNION"
        " SELECT link.successor_id FROM jobs_prerequisite AS link JOIN follower ON link.predecessor_id = follower.id)"
        " SELECT 1 FROM follower WHERE id = NEW.predecessor_id)"
    ),
    sentence="This prerequisite closes a circle: a job would have to wait for itself. Remove one link of the circle.",
    deferred=True,
    locks_graph=True,
)

_WITHIN = "{a}.day = {b}.day AND {a}.starts < {b}.ends AND {b}.starts < {a}.ends"
_GOES = (
    "SELECT {a}.person_id WHERE {a}.person_id IS NOT NULL"
    " UNION SELECT person_id FROM core_crewmember WHERE crew_id = {a}.crew_id"
)

ONE_PLACE = Guard(
    name="jobs_assignment_one_place",
    table="jobs_assignment",
    on=("INSERT", "UPDATE"),
    forbidden=(
        "NEW.state = 'active' AND NEW.starts IS NOT NULL AND EXISTS ("
        "SELECT 1 FROM jobs_assignment AS other WHERE other.holding_id = NEW.holding_id"
        f" AND other.id <> NEW.id AND other.state = 'active' AND {_WITHIN.format(a='other', b='NEW')}"
        f" AND EXISTS (SELECT person_id FROM ({_GOES.format(a='other')}) AS others"
        f" INTERSECT SELECT person_id FROM ({_GOES.format(a='NEW')}) AS these))"
    ),
    sentence="Somebody would be at two places at one time. Give other hours or another person, or end one of the two.",
    locks_graph=True,
)

ONE_PLACE_IN_CREW = Guard(
    name="core_crewmember_one_place",
    table="core_crewmember",
    on=("INSERT", "UPDATE"),
    forbidden=(
        "EXISTS (SELECT 1 FROM jobs_assignment AS crews JOIN jobs_assignment AS other"
        f" ON other.id <> crews.id AND {_WITHIN.format(a='other', b='crews')}"
        " WHERE crews.state = 'active' AND other.state = 'active' AND crews.crew_id = NEW.crew_id"
        " AND (other.person_id = NEW.person_id"
        " OR other.crew_id IN (SELECT crew_id FROM core_crewmember WHERE person_id = NEW.person_id)))"
    ),
    sentence=(
        "In this crew the person would be at two places at one time. End or move one of the two assignments first."
    ),
    locks_graph=True,
)

GUARDS = (NO_CYCLE, ONE_PLACE, ONE_PLACE_IN_CREW, *append_only("jobs_report", "A report"))
