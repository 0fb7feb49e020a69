"""The planner: exact times for every future move, with a proof, a bound or a witness."""
