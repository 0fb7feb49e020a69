"""Plan, time and record multi-step chemical finishing of several steel parts at once."""

__version__ = "0.1.0"
