"""Pages: contexts as plain data, drawings, search, the site, print, and inspection forms.

``write_handbook`` makes the offline handbook of a plan, ``write_forms`` inspection forms, ``write_comparison`` two plans side by side. Templates, style and
script lie in ``site_template/``; words and small choices in ``vehicle_specs/settings/handbook.toml``.
"""

from fieldkit.handbook.book import write_handbook
from fieldkit.handbook.comparison import write_comparison
from fieldkit.handbook.forms import write_forms

__all__ = ["write_comparison", "write_forms", "write_handbook"]
