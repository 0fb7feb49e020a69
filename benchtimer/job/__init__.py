"""Jobs: an order with its parts, their recipes in order, and a due date.

``job_state`` folds a job's own stream of the log; ``job_progress`` reads how far along the parts
are from the runs; ``policy`` decides what to work on next, and the plan, tonight's advice and the
trials all follow it. Pure: no clock, disk or screen.
"""
