"""What a placard leaves for cargo, and how many people a vehicle is normally reckoned with."""

from __future__ import annotations

from fieldkit.loads.figures import LoadFigures, load_figures


def normal_occupants(seats: int, figures: LoadFigures | None = None) -> int:
    """People that a vehicle of so many seats is normally reckoned with: for a form without a trip.

    Raises
    ------
    ValueError
        If the seats are not in the table (1 to 22); fewer than two seats hold as many as they are.

    References
    ----------
    .. [1] 49 CFR 571.110, table 1 (seen in an owner's manual).

    Examples
    --------
    >>> normal_occupants(5)
    3
    """
    table = (figures or load_figures()).people.normal_occupants
    if seats < 1:
        raise ValueError(f"{seats} seats")
    for most, people in table:
        if seats <= most:
            return min(seats, people)
    raise ValueError(f"{seats} seats are more than the table has ({table[-1][0]})")


def cargo_left(placard: float, people: int, occupant: float | None = None) -> float:
    """What is left for cargo of a placard's limit for people and cargo together, never below 0.

    Parameters
    ----------
    placard, occupant : float
        Limit and mass of one person, in the same unit [kg or lb]; without ``occupant`` the placard is in kg and a person is 68 kg.
    people : int
        Aboard, 0 or more.

    References
    ----------
    .. [1] 49 CFR 575.6 and 571.110, steps for the correct load limit (seen in five owners' manuals).

    Examples
    --------
    >>> cargo_left(1400, 5, 150)
    650.0
    """
    each = load_figures().people.us_occupant_kg if occupant is None else occupant
    return max(0.0, float(placard) - people * each)
