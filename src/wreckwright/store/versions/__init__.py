"""Steps that bring an older database up to date, one file each, in the order of their numbers.

A released step is never changed: databases out there have gone through it as it was. Each says its tables and columns
in full and imports nothing of the program, which will look different when the step is run in some years.
"""
