"""Requests made from the OpenAPI document, valid and broken ones, against the live API as everybody who may ask."""

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.faults.places import ROOT
from tests.fuzz.served import ROLES, Served, served

CONFIG = ROOT / ".ci" / "schemathesis.toml"


@dataclass
class Told:
    """What the requests of one role found; `failures` has a line for each kind, with the operations it was seen at."""

    role: str
    cases: int
    operations: int
    whole: bool
    failures: list[str] = field(default_factory=list)


def fuzz(
    server: Served, role: str, *, seed: int, examples: int, phases: str = "examples,coverage,fuzzing,stateful"
) -> Told:
    """All checks with so many examples an operation. The document names the operations; it is read from the server."""
    token = server.tokens.get(role)
    asker = ["-H", f"Authorization: Bearer {token}"] if token else []
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        report = Path(folder) / "report.json"
        command = [
            *(
                sys.executable,
                "-m",
                "schemathesis.cli",
                "--config-file",
                str(CONFIG),
                "run",
                f"{server.url}/api/schema/",
            ),
            *asker,
            *("--checks", "all", "--phases", phases, "--max-examples", str(examples), "--seed", str(seed)),
            *("--no-shrink", "--warnings", "off", "--report", "json", "--report-json-path", str(report)),
        ]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
        if not report.exists():
            raise AssertionError(done.stdout[-3000:] + done.stderr[-3000:])
        found: dict[str, Any] = json.loads(report.read_text())
        failures = [f"{f['title']} x{f['count']}: {', '.join(f['operations'][:5])}" for f in found["failures"]]
        if failures:
            failures.append(done.stdout[-20_000:])
    failures += [str(error)[:500] for error in found["errors"]]
    return Told(
        role=role,
        cases=found["test_cases"]["generated"],
        operations=found["operations"]["tested"],
        whole=bool(found["complete"]),
        failures=failures,
    )


def every_role(*, cases: int, seed: int, examples: int = 20) -> list[Told]:
    """Round after round over the roles, each round with another seed, until so many requests were made."""
    told: list[Told] = []
    with served() as server:
        while sum(one.cases for one in told) < cases:
            for role in ROLES:
                told.append(fuzz(server, role, seed=seed, examples=examples))
                one = told[-1]
                print(f"{role:<14} seed {seed}: {one.cases} cases, {one.operations} operations", flush=True)
                for failure in one.failures:
                    print(f"    {failure}", flush=True)
            seed += 1
    return told
