"""The long form: `python -m tests.fuzz --cases 20000`. The last line is JSON; ends with 1 if anything was found."""

import argparse
import json
import sys
import time

from tests.fuzz.running import every_role

parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("--cases", type=int, default=20_000, help="at least so many requests")
parser.add_argument("--examples", type=int, default=20, help="examples an operation and role in each round")
parser.add_argument("--seed", type=int, default=1)
chosen = parser.parse_args()
begun = time.monotonic()
told = every_role(cases=chosen.cases, seed=chosen.seed, examples=chosen.examples)
found = [failure for one in told for failure in one.failures]
print(
    json.dumps(
        {
            "cases": sum(one.cases for one in told),
            "roles": len({one.role for one in told}),
            "operations": max(one.operations for one in told),
            "failures": len(found),
            "whole": all(one.whole for one in told),
            "seconds": round(time.monotonic() - begun),
        }
    )
)
sys.exit(1 if found else 0)
