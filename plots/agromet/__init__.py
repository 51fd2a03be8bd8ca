"""Derived hours and days: humid air, heat and cold, evapotranspiration, fuel moisture, soil water, inversion. Pure.

Functions take arrays of any one shape (or plain numbers) and answer in that shape. A value that is missing is NaN, and
NaN in gives NaN out: nothing is guessed. The suffix of a name is its unit.
"""
