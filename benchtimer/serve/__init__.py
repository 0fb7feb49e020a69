"""The bench on a second screen: a page for a phone or tablet, read-only, on your own network.

It runs in a process of its own, beside the bench, and reads the log as any watcher does.
"""
