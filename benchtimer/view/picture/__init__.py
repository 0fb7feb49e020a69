"""The drawn board: one time axis, a lane for each part, your hands, the places.

``scene`` is the content, as plain data. ``axis`` turns times into columns, ``lane_rows``
and ``place_rows`` draw one row each, ``sheet`` divides the rows and stacks them. It
needs no recipe, clock or screen: a widget only colors the cells. The same pieces draw the plan and
the record.

How to read it: a thin line is too early to pull, a thick line means you can pull, ``┫`` is max,
``▼`` the planned pull, ``◆`` the target, ``│`` is now.
"""
