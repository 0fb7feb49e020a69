"""The drawn board: one time axis, a lane for each part, your hands, the places.

``scene`` is what is drawn, as plain data. ``axis`` turns times into columns, ``lane_rows``,
``hand_row`` and ``place_rows`` draw one thing each, ``sheet`` shares out the rows and puts them
below each other. Nothing here knows a recipe, a clock or the screen: a widget only colors the
cells. The same pieces draw the plan and the record.

How to read it: a thin line is too early to pull, a thick line may be pulled, ``┫`` is max, ``▼``
the planned pull, ``◆`` the target, ``│`` is now.
"""
