"""What a trip asks of vehicles and people: surfaces, difficulty, remoteness, supplies."""

from fieldkit.exposure.drawing import map_drawing, profile_drawing
from fieldkit.exposure.expose import expose

__all__ = ["expose", "map_drawing", "profile_drawing"]
