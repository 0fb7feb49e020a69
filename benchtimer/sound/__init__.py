"""What makes an alarm heard and seen beside the bench: a tone and a desktop notice.

Also what you once heard on this computer: an alarm that was never heard is no alarm.
"""
