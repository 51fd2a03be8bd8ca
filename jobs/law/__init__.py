"""What label, law, contract and safety ask of a job, as bounds on when it may be done. Pure: facts in, bounds out.

No clock is asked: a bound carries the instants between which it holds. Nothing here is permission; the label, the
contract and local codes decide."""
