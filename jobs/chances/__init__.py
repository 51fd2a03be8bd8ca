"""What many years of daily weather say of a job and of a season: days left, chances, and what spoils most. Pure.

Years are rows of arrays, days columns; each year of history is played once with today's facts.
"""
