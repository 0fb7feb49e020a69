"""First aid: how long to rinse by the strictest source, what to do first, what never to do."""

from __future__ import annotations

from typing import get_args

import pytest

from benchtimer.trade.compatibility import Chemistry
from benchtimer.trade.figure import SourceStatus
from benchtimer.trade.first_aid import FIRST_AID, FirstAid, Hurt, first_aid_for, rinse_min

ANY = pytest.mark.parametrize("aid", FIRST_AID, ids=[aid.title for aid in FIRST_AID])
KINDS: tuple[Hurt, ...] = (*get_args(Chemistry), "heat", "cut")


def _words(aid: FirstAid) -> str:
    return " ".join((*aid.do, *aid.signs, *aid.never)).lower()


@pytest.mark.parametrize("hurt", KINDS)
def test_there_is_first_aid_for_whatever_can_hurt(hurt: Hurt) -> None:
    """Every chemistry of the table, heat and cuts each have an entry."""
    assert any(hurt in aid.hurts for aid in FIRST_AID)


@pytest.mark.parametrize(
    ("hurt", "minutes", "source"),
    [
        ("alkali", 60, "national center, copy at cemle.com: 60; New Jersey sheet: 30"),
        ("acid", 30, "national center: most corrosives 30; ferric chloride sheet: eyes 20"),
        ("epoxy", 30, "national center: most corrosives 30; resin maker: eyes 15"),
        ("nitrite", 60, "as caustic: the salts that hold it here are caustic"),
        ("carbonate", 15, "WAC 296-800-15030: eyewash 15; national center: mild 5"),
        ("heat", 20, "first-aid pages: at least 20; a fire department's page: 3 to 5"),
    ],
)
def test_the_longest_published_rinse_counts(hurt: Hurt, minutes: int, source: str) -> None:
    """If sources differ, the longest rinse is shown."""
    assert source
    assert rinse_min([hurt]) == minutes


def test_several_chemicals_are_rinsed_for_the_longest_time() -> None:
    """Salts are caustic, nitrite and heat: the caustic's hour counts."""
    assert rinse_min(["heat", "nitrite", "alkali"]) == 60
    assert rinse_min([]) == 0


@ANY
def test_the_text_states_the_minutes(aid: FirstAid) -> None:
    """The steps themselves say how long to rinse, and rinsing comes first."""
    if aid.rinse_min:
        assert f"{aid.rinse_min} minutes" in " ".join(aid.do)
        if aid.hurts[0] in ("alkali", "acid", "heat", "carbonate", "epoxy"):
            assert {"rinse", "cool"} & set(aid.do[0].lower().replace(".", "").split())


@ANY
def test_instructions_are_short(aid: FirstAid) -> None:
    """Each sentence has at most 20 words, and an entry at most six steps."""
    for order in (*aid.do, *aid.signs, *aid.never):
        assert all(len(sentence.split()) <= 20 for sentence in order.split(". "))
    assert len(aid.do) <= 6


@ANY
def test_every_entry_names_a_source(aid: FirstAid) -> None:
    """No entry rests on memory."""
    assert aid.sources
    assert all(source.status is not SourceStatus.MEMORY for source in aid.sources)


@ANY
def test_no_text_says_to_vomit(aid: FirstAid) -> None:
    """Every entry for something swallowed says: no vomiting, and call the poison center at once.

    One card lets a conscious person vomit nitrite; the makers' sheets don't, and that is safer.
    """
    if aid.name in ("caustic", "acid", "nitrite", "resin", "solvent", "oil"):
        (order,) = (each for each in aid.do if each.startswith("Swallowed: "))
        assert order.startswith("Swallowed: do not induce vomiting. Awake: rinse the mouth.")
        assert "Not awake: nothing by mouth" in order
        assert "Call the poison center at once." in order
    assert "unless" not in " ".join(aid.never)


def test_the_signs_of_nitrite_are_there() -> None:
    """The entry has blue lips and the other signs of ICSC 1120, and says they come late."""
    (nitrite,) = (aid for aid in FIRST_AID if aid.hurts[0] == "nitrite")
    for sign in ("blue lips", "headache", "dizziness", "nausea", "confusion", "fast pulse"):
        assert sign in _words(nitrite)
    assert "20 minutes to 3 hours" in _words(nitrite)


def test_contact_lenses_never_stop_the_rinse() -> None:
    """Lenses come out if that is easy; the rinse continues."""
    for hurt in ("alkali", "acid", "epoxy"):
        found = " ".join(_words(aid) for aid in first_aid_for([hurt]))
        assert "lenses" in found
        assert "never stop rinsing" in found


def test_dry_caustic_is_brushed_off_before_the_rinse() -> None:
    """Water on dry salts makes heat, so the powder comes off the skin first (burnscentre.org)."""
    assert "brush them off first, then rinse" in _words(first_aid_for(["alkali"])[0])


def test_a_cut_that_spurts_gets_a_tourniquet() -> None:
    """Pressing comes first, then a tourniquet, and no raising of the limb (IFRC 2020, ERC 2015)."""
    words = _words(first_aid_for(["cut"])[-1])
    assert words.index("press hard") < words.index("tourniquet")
    assert "hold it high" not in words


def test_what_is_open_is_shown_and_cuts_are_always_shown() -> None:
    """With something open, only its entries and cuts show, worst first; otherwise all do."""
    titles = [aid.title for aid in first_aid_for(["nitrite", "alkali", "heat"])]
    assert titles[0].startswith("Caustic")
    assert titles[-1] == "Cut"
    assert not any("Resin" in title for title in titles)
    assert first_aid_for([]) == FIRST_AID
