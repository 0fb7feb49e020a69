"""Plan, time and record multi-step chemical finishing of several steel parts at once.

These rules apply everywhere:

1. The log is the truth. State is a fold over events, and an event is on the disk before the
   screen shows its effect. If the disk fails, the run continues in memory, and nothing in memory is
   called saved.
2. Nothing is erased. The file itself refuses UPDATE and DELETE on events.
3. Time is real time. Timers follow bench time, never the wall clock or a count of ticks.
4. The engine accepts what is physically possible. It refuses the rest and says what to do.
5. Nothing is shown by color alone or by sound alone.
6. Bad input gets one clear message and loses nothing.
"""

__version__ = "0.1.0"
