"""The page words and small choices of ``settings/handbook.toml`` and ``settings/emergencies.toml``, checked."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fieldkit.specs.base import Id, Spec, Text

Labels = dict[str, Text]
Lines = tuple[Text, ...]


class Front(Spec):
    read_first: Text
    audience: Text
    on_phone: Lines
    marks_note: Text
    only_ones: int = Field(ge=1)


class KitPage(Spec):
    greedy: Text
    saves_note: Text
    firm_note: Text


class Search(Spec):
    most: int = Field(ge=1, le=50)
    one_letter_from: int = Field(ge=3)
    two_letters_from: int = Field(ge=4)
    label: Text
    nothing: Text


class Tree(Spec):
    """Order of the questions: chance x payoff / (minutes + risk minutes)."""

    most_questions: int = Field(ge=1, le=8)
    risk_minutes: float = Field(gt=0)
    payoff: dict[str, float]


class VehiclePage(Spec):
    in_full: int = Field(ge=1)
    driver_sheet_points: int = Field(ge=1, le=5)


class HelpCall(Spec):
    tell: Lines


class Driver(Spec):
    never: Lines
    alone: Text
    rules: Text


class Convoy(Spec):
    signals: tuple[tuple[Text, Text], ...]
    interchange: tuple[str, ...] = ()


class Rhythm(Spec):
    time: Text
    what: Text


class Paper(Spec):
    what: Text
    who: Text


class Card(Spec):
    position: Text


class PrintSet(Spec):
    must_have: Text
    top_repairs: int = Field(ge=1, le=20)
    papers: tuple[Literal["A4", "Letter", "A5"], ...]


class HandbookSettings(Spec):
    """``settings/handbook.toml``; an overlay may hold only what differs."""

    language: Text
    titles: Labels
    states: Labels
    state_numbers: dict[str, int]
    lifted_by: Labels
    severities: Labels
    unsafe_kinds: Labels
    needs: Labels
    kinds: Labels
    kind_meanings: Labels
    leaves: Labels
    skills: Labels
    senses: Labels
    stations: Labels
    item_kinds: Labels
    help_kinds: Labels
    difficulty: Labels
    words: Labels
    front: Front
    search: Search
    tree: Tree
    vehicle_page: VehiclePage
    kit_page: KitPage
    help_call: HelpCall
    driver: Driver
    convoy: Convoy
    rhythm: tuple[Rhythm, ...]
    paper: tuple[Paper, ...]
    card: Card
    print: PrintSet


class Emergency(Spec):
    """One emergency page; ``values`` are ``call``, ``channel``, ``medical``, ``water``, ``worst`` or ``gear:`` with item ids.

    ``in_convoy`` and ``alone`` end ``then`` where several vehicles travel together, and where one does.
    """

    title: Text
    now: Lines
    then: Lines
    in_convoy: Lines = ()
    alone: Lines = ()
    never: Lines = ()
    values: Lines = ()
    repairs: tuple[Id, ...] = ()
    symptoms: tuple[Id, ...] = ()
    pages: Lines = ()
    tell: bool = False


class EmergencySettings(Spec):
    emergency: dict[Id, Emergency]
