"""In which hours a job may go: limits over hours of weather, and the windows in which all of them hold. Pure.

Hours of many places are columns of numbers (`hours`), a limit gives for every hour how far it is from its bound
(`limits`), and windows are the runs of hours in which every limit holds (`finding`). A value that is missing holds
nothing: there is no window on what is not known.
"""
