"""The weekend: who does what, where, in which hours, with which machines. Pure.

`problem` is the self-checking data, `solve` gives the best plan with its proof or its distance from one, `sheets` says
it per person and machine, `reasons` says of each job left out what would let it in.
"""
