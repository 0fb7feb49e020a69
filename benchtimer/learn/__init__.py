"""What the shop's own records teach: times, failure rates, causes, rates, baths over time.

Pure: it takes plain values and returns plain values. ``observe`` reads what a run teaches from
its entries; ``sums`` adds it up so that old data counts less and nothing is read twice;
``estimates`` turns the sums into times and rates with intervals; ``causes`` ranks what the failures
have in common. ``significance`` and ``posterior`` are the statistics below them.
"""
