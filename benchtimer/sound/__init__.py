"""Makes an alarm audible and visible beyond the bench: a tone and a desktop notice.

It also remembers what you heard on this computer, because an alarm that was never heard is useless.
"""
