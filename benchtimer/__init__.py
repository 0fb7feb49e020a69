"""Plan, time and record multi-step chemical finishing of several steel parts at once.

What holds everywhere:

1. The log is the truth. State is a fold over events, and an event is on the disk before the
   screen shows its effect. While the disk fails the run goes on in memory, and nothing of that
   is called saved.
2. Nothing is erased. The file itself refuses UPDATE and DELETE on events.
3. Time is real time. Timers follow bench time, never the wall clock or a count of ticks.
4. The engine accepts what is physically possible, and refuses the rest with a way out.
5. Never by color alone, never by sound alone.
6. Bad input gets one clear message and costs nothing.
"""

__version__ = "0.1.0"
