"""The registry of topics: every calculation, by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from benchtimer.quantity import meant, nearest
from benchtimer.trade.sheets import (
    abrasive_sheet,
    caustic_sheet,
    cooling_sheet,
    edge_sheet,
    etchant_sheet,
    etchant_wear_sheet,
    rate_sheet,
    temper_sheet,
    water_sheet,
    waterbreak_sheet,
    wheel_sheet,
)
from benchtimer.trade.topic import Topic
from benchtimer.trade.valid_range import TradeError

TOPICS: Final[Mapping[str, Topic]] = {
    topic.name: topic
    for sheet in (
        water_sheet,
        caustic_sheet,
        cooling_sheet,
        etchant_sheet,
        etchant_wear_sheet,
        waterbreak_sheet,
        abrasive_sheet,
        wheel_sheet,
        temper_sheet,
        edge_sheet,
        rate_sheet,
    )
    for topic in sheet.TOPICS
}
"""Topics by name, in the order of the list."""


class UnknownTopicError(TradeError):
    """A topic that is not in the registry.

    Attributes:
        name: the name.
        known: the known names.
        close: the most similar one, if any.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.known = tuple(TOPICS)
        self.close = nearest(name, list(TOPICS))
        hint = meant(self.close, "benchtimer calc lists them")
        super().__init__(f'"{name}" is not a topic; {hint}')


def find_topic(name: str) -> Topic:
    """A topic by name.

    Raises:
        UnknownTopicError: no topic with that name.
    """
    try:
        return TOPICS[name]
    except KeyError:
        raise UnknownTopicError(name) from None
