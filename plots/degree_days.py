"""Degree days and the curve that lags are counted on (D4, D5). The curve's meaning:

day k is the local civil day from day_starts[k] to day_starts[k+1] (minutes since 1970-01-01 UTC; len(day_starts) is
len(values)+1); values[k] are integer hundredths >= 0; sources[k] is "observed", "forecast" or "normal".
total(k) = sum of values[0..k].
"""
