"""The planner: exact times for every future move, with a proof, a bound or a witness.

    problem      what is to be planned, in whole seconds, free of any recipe
    from_recipe  recipes and parts, fresh or in mid-run, to a problem
    away         hours away by the clock on the wall to windows
    planner      solve and replan: a problem in, a typed outcome out
    outcome      plans, outcomes and their JSON form
    latest       how long the start may be put off
    gains        what would make the day end earlier
    cadence      the smallest steady interval for equal parts
    spread       how much hands-on times vary: drawn and estimated
    trials       a plan carried out many times with other hands-on times
    risk         the chances of an overrun and of work past the hours; risk_words says them
    check        does a plan keep every rule? independent of the search
    draw         a plan as lines of text
    calendar     a plan as calendar entries with alarms

Below them: instance (the problem in numbers), state, lookahead, bounds, jackson and search
(one pair of hands, exact), crew (several pairs), network, timing and aim (times for an
order), explain and changes (why there is no plan, and what frees it).
"""
