"""The bench on a second screen: a page for a phone or tablet, read-only, on your own network.

It runs in a separate process next to the bench, and reads the log like any watcher.
"""
