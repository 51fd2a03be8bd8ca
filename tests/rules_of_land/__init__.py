"""Rules of law, contract and safety as a manager meets them: through the API, at their edges, with their reasons.

The list of rules is 40 CFR 170 (entry, mixes, handlers, signs, exclusion zone), 7 CFR 110.3 (spot applications),
conservation contracts (FSA, NRCS), burn forms (Texas, Minnesota, Nebraska) and lone work. Entry and mixes stand in
`test_moment_entry`, handlers and signs in `jobs/services`; figures that no source confirms are typed here.
"""
