"""Route files to a line on the ground, and that line to legs."""

from fieldkit.route.as_json import route_json
from fieldkit.route.cut import cut_legs
from fieldkit.route.geodesic import written_position
from fieldkit.route.read import read_route
from fieldkit.route.trip import trip_route

__all__ = ["cut_legs", "read_route", "route_json", "trip_route", "written_position"]
