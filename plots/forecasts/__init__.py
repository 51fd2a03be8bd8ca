"""What public weather services answer, read into plain hours. Pure: text in, values out; nothing here opens a socket.

What a reply does not say, says out of range or says in a unit that is not known is missing, never 0.
"""

from plots.forecasts.values import Forecast, HourValues, RainTotal, Unusable

__all__ = ["Forecast", "HourValues", "RainTotal", "Unusable"]
