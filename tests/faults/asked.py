"""Faults 16, 18 and 19: edits of what changed meanwhile, hostile files and bodies, ids of another holding.

Each is asked of the live web server. The controls ask the same in a way that must go wrong: edits that take whatever
stands, bodies and files read by the standard library alone, and the other holding's ids by the token that may see them.

    python -m tests.faults.asked    (in a place with a holding: adds another one like it; prints its told)
"""

import http.client
import io
import json
import os
import re
import subprocess
import time
import uuid
import zipfile
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from tests.faults.ground import ENGINES, Ground, Web, ground
from tests.faults.replies import WHEN

TICKS = os.sysconf("SC_CLK_TCK")
PAGE = os.sysconf("SC_PAGE_SIZE")
MOST_S, MOST_GROWTH = 1.0, 50 * 1024 * 1024


def asked(
    port: int, method: str, path: str, token: str, body: bytes | None = None, **headers: str
) -> tuple[int, str, bytes]:
    """(status, entity tag, body) of one request with exactly these headers; names have _ for -."""
    sent = {name.replace("_", "-"): value for name, value in headers.items()} | {"Authorization": f"Bearer {token}"}
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as link:
        with suppress(BrokenPipeError, ConnectionResetError):  # too long a body is answered before it is through
            link.request(method, path, body=body, headers=sent)
        answer = link.getresponse()
        return answer.status, answer.getheader("ETag") or "", answer.read()


def stale(rounds: int) -> dict[str, Any]:
    """16: two have read a plot; the second to change it is told so, and so is one that says nothing of what it read."""
    begun = time.monotonic()
    lost = unsaid = control = 0
    for engine in ENGINES:
        with ground(engine) as place, Web(place) as web:
            path, token = f"/api/plots/{place.told['plot']}/", place.told["manager"]

            def edit(name: str, path: str = path, token: str = token, port: int = web.port, **version: str) -> int:
                body = json.dumps({"name": name}).encode()
                return asked(port, "PATCH", path, token, body, Content_Type="application/json", **version)[0]

            def named(place: Ground = place) -> str:
                return str(place.rows(f"SELECT name FROM plots_plot WHERE id = {place.told['plot']}")[0][0])

            for number in range(rounds):
                read = asked(web.port, "GET", path, token)[1]
                first = edit(f"First {number}", If_Match=read)
                second = edit(f"Second {number}", If_Match=read)
                lost += int((first, second, named()) != (200, 412, f"First {number}"))
                unsaid += int((edit(f"Third {number}"), named()) != (428, f"First {number}"))
                edit(f"Fourth {number}", If_Match="*")
                control += int(named() != f"First {number}")
    return {
        "fault": 16,
        "what": "an edit of what another changed meanwhile: 412, without a version 428, the row unchanged",
        "count": rounds * len(ENGINES),
        "lost": lost,
        "doubled": unsaid,
        "control_failed": control,
        "control": f"edits that take whatever stands wrote over the other's {control} times",
        "seconds": round(time.monotonic() - begun, 1),
    }


def hostile(rounds: int) -> dict[str, Any]:
    """18: bombs, deep bodies and huge numbers: each refused by 4xx within a second of the server's own time, and its
    memory grows by less than 50 MB over all of them."""
    begun = time.monotonic()
    broke, slow, slowest = 0, 0, 0.0
    bodies, files = _bodies(), _files()
    with ground("sqlite") as place, Web(place) as web:
        token, land = place.told["manager"], place.rows("SELECT id FROM plots_property")[0][0]
        good, form = _form("plots.csv", b"name,property,acres\nStrip,Long Reach,1.5\n", land)
        assert asked(web.port, "POST", "/api/imports/", token, good, Content_Type=form)[0] == 200
        before = _used(web)[1]
        for _ in range(rounds):
            for name, body in [*bodies.items(), *files.items()]:
                path, kind = "/api/reports/", "application/json"
                if name in files:
                    path, (body, kind) = "/api/imports/", _form(name, body, land)
                at = _used(web)[0]
                status = asked(web.port, "POST", path, token, body, Content_Type=kind)[0]
                took = _used(web)[0] - at
                broke, slow, slowest = (
                    broke + int(not 400 <= status < 500),
                    slow + int(took > MOST_S),
                    max(slowest, took),
                )
        growth = _used(web)[1] - before
        alive = asked(web.port, "GET", "/api/next/", place.told["helper"])[0] == 200
    control = sum(map(_swallowed, bodies.values())) + sum(map(_unpacked, files.values()))
    return {
        "fault": 18,
        "what": f"{len(bodies)} bodies and {len(files)} files that are bombs, too deep or no numbers: 4xx, "
        f"{slowest:.2f} s of the server at most, memory grew by {growth / 2**20:.0f} MB",
        "count": rounds * (len(bodies) + len(files)),
        "lost": broke + slow + int(growth > MOST_GROWTH) + int(not alive),
        "doubled": 0,
        "control_failed": control,
        "control": f"read by the standard library alone, {control} of them break it or are taken whole",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _bodies() -> dict[str, bytes]:
    report = {"client_id": str(uuid.uuid4()), "kind": "note", "happened_at": WHEN, "job": 1}
    as_job = json.dumps(report).replace(": 1}", ": %s}")
    return {
        "objects 100,000 deep": b'{"a":' * 100_000 + b"1" + b"}" * 100_000,
        "lists 100,000 deep": b"[" * 100_000,
        "an integer of 400 digits": (as_job % ("9" * 400)).encode(),
        "an integer of 5,000 digits": (as_job % ("9" * 5000)).encode(),
        "no number": (as_job % "NaN").encode(),
        "no end": (as_job % "1e999").encode(),
        "half a character": (as_job % '"\\ud800"').encode(),
        "13 MB": b'{"note": "' + b"a" * 13_000_000 + b'"}',
    }


def _files() -> dict[str, bytes]:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b"\0" * (64 * 2**20))
    entities = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefg", "bcdefgh", strict=True))
    laughs = f'<!DOCTYPE kml [<!ENTITY a "ha">{entities}]><kml><Placemark><name>&e;</name></Placemark></kml>'
    outside = '<!DOCTYPE kml SYSTEM "http://192.0.2.1/kml.dtd"><kml><Placemark><name>A</name></Placemark></kml>'
    return {
        "bomb.kmz": packed.getvalue(),
        "laughs.kml": laughs.encode(),
        "outside.kml": outside.encode(),
        "deep.geojson": b"[" * 100_000,
    }


def _form(name: str, data: bytes, land: int) -> tuple[bytes, str]:
    """(body, content type) of an upload."""
    head = f'--cut\r\nContent-Disposition: form-data; name="property"\r\n\r\n{land}\r\n--cut\r\n'
    head += f'Content-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
    return head.encode() + data + b"\r\n--cut--\r\n", "multipart/form-data; boundary=cut"


def _used(web: Web) -> tuple[float, int]:
    """(seconds of the processor, bytes of memory) of the server and its children."""
    family = subprocess.run(["pgrep", "-g", str(web.pid)], capture_output=True, text=True, check=True).stdout.split()
    seconds, pages = 0.0, 0
    for pid in family:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        seconds += (int(fields[11]) + int(fields[12])) / TICKS
        pages += int(fields[21])
    return seconds, pages * PAGE


def _swallowed(body: bytes) -> bool:
    """Whether the standard library breaks on the body or takes it as good."""
    try:
        json.loads(body)
    except RecursionError:
        return True
    except ValueError:
        return False
    return True


def _unpacked(data: bytes) -> bool:
    """Whether the standard library unpacks or expands the file to what nobody sent."""
    from xml.etree import ElementTree

    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return len(archive.read("doc.kml")) > 100 * len(data)
    if data.startswith(b"<"):
        try:
            return "haha" in "".join(ElementTree.fromstring(data).itertext())
        except ElementTree.ParseError:
            return False
    return _swallowed(data)


def strangers(rounds: int) -> dict[str, Any]:
    """19: the ids of another holding, in the path, in a body and in a filter: answered as if they were not there."""
    begun = time.monotonic()
    count = lost = doubled = control = 0
    for engine in ENGINES:
        with ground(engine) as place, Web(place) as web:
            other = json.loads(place.run("-m", "tests.faults.asked").splitlines()[-1])
            mine, theirs = place.told["manager"], other["manager"]
            for path, ids in _things(web, theirs, mine).items():
                for found in ids[:rounds]:
                    seen, absent = f"{path}{found}/", f"{path}{_absent(found)}/"
                    count += 1
                    control += int(asked(web.port, "GET", seen, theirs)[0] == 200)
                    for method in ("GET", "PATCH", "DELETE"):
                        answers = [_plain(web, method, at, mine) for at in (seen, absent)]
                        lost += int(answers[0] != answers[1] or answers[0][0] not in (404, 405))
            for job in other["jobs"][:rounds]:
                count += 1
                doubled += int(_report(web, mine, job) != _report(web, mine, 2**31 - 1))
                filtered = f"/api/jobs/?plot={other['plot']}"
                doubled += int(b"Work" in asked(web.port, "GET", filtered, mine)[2])
                control += int(b"Work" in asked(web.port, "GET", filtered, theirs)[2])
    return {
        "fault": 19,
        "what": "ids of another holding in path, body and filter: no answer tells them from ids that nobody has",
        "count": count,
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": f"asked by the holding's own token, {control} of them are answered",
        "seconds": round(time.monotonic() - begun, 1),
    }


FAULTS: dict[int, Callable[[int], dict[str, Any]]] = {16: stale, 18: hostile, 19: strangers}


def _things(web: Web, theirs: str, mine: str) -> dict[str, list[Any]]:
    """By address of a list the ids in it that its holding's token sees and mine does not: no shipped ones."""
    paths = json.loads(asked(web.port, "GET", "/api/schema/?format=json", theirs)[2])["paths"]
    found = {}
    for path in [path for path in paths if f"{path}{{id}}/" in paths and "{" not in path]:
        seen, ours = (_listed(web, path, token) for token in (theirs, mine))
        if seen:
            found[path] = [one for one in seen if one not in ours]
    assert len(found) > 3, "the other holding has things that can be asked for"
    return found


def _listed(web: Web, path: str, token: str) -> list[Any]:
    status, _, body = asked(web.port, "GET", path, token)
    return [row["id"] for row in json.loads(body).get("results", [])] if status == 200 else []


def _absent(found: Any) -> Any:
    return 2**31 - 1 if isinstance(found, int) else str(uuid.uuid4())


def _plain(web: Web, method: str, path: str, token: str) -> tuple[int, bytes]:
    """(status, body without the number that was asked for)."""
    body = b"{}" if method == "PATCH" else None
    status, _, said = asked(web.port, method, path, token, body, Content_Type="application/json", If_Match="*")
    return status, _without(path.split("/")[-2], said)


def _report(web: Web, token: str, job: int) -> tuple[int, bytes]:
    body = {"client_id": str(uuid.uuid4()), "job": job, "kind": "start", "happened_at": WHEN}
    said = asked(web.port, "POST", "/api/reports/", token, json.dumps(body).encode(), Content_Type="application/json")
    return said[0], _without(str(job), said[2])


def _without(number: str, said: bytes) -> bytes:
    return re.sub(rf"\b{number}\b".encode(), b"", said)


if __name__ == "__main__":
    import django

    django.setup()
    from tests.faults.ground import fill

    print(json.dumps(fill()))
