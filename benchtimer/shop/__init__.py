"""The one shop: its places, its hours, its hands, and the agenda over all open runs.

Pure: no clock, disk or screen. Runs keep their own state; this package says what they mean for each
other.
"""
