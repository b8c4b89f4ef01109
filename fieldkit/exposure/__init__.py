"""What a trip asks of vehicles and people: surfaces, difficulty, remoteness, supplies."""

from fieldkit.exposure.expose import expose

__all__ = ["expose"]
