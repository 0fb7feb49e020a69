"""The planner: exact times for every future move, with a proof, a bound or a witness.

    problem      what to plan, in whole seconds, independent of recipes
    from_recipe  from recipes and parts, new or in progress, to a problem
    together     several runs in one problem, several recipes in one part
    away         from wall-clock hours to times away
    planner      solve: a problem in, a typed outcome out
    outcome      plans, outcomes and their JSON form
    latest       how long you can put off the start
    gains        what would make the day end earlier
    cadence      the shortest steady interval for identical parts; at_cadence places them at it
    spread       how much hands-on times vary: drawn and estimated
    trials       a plan carried out many times with varied hands-on times
    risk         the chances of an overrun and of work past the hours; risk_words puts them in words
    draw         a plan as lines of text
    calendar     a plan as calendar entries with alarms

How a plan is made: heating closes places until they are hot and for make-ups; targets decides
which dwells end before target; earliest searches for the earliest end; nearest searches for the
times nearest to target. Under earliest: timetable (the calendars of hands and places), sections and
placement (whole parts placed, a plan in milliseconds), improve with order_search (better plans),
refit and fixpoint (a known plan or order placed again), and the search by decisions, for better
plans and proofs: instance (the problem in numbers), precedences (its rules and choices), windows
(numbers with bounds, and what conflicts teach), loads (work that must fit between two moments) and
decisions. network, timing and aim give the times of an order; explain and changes say why there is
no plan, and what frees it.
"""
