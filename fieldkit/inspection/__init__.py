"""What people find when they look: beliefs, readiness, the value of looking, forms, and findings brought back."""

from fieldkit.inspection.belief import beliefs
from fieldkit.inspection.form import inspection_form
from fieldkit.inspection.look import value_of_looking
from fieldkit.inspection.readiness import readiness
from fieldkit.inspection.work import after_work, work_options

__all__ = ["after_work", "beliefs", "inspection_form", "readiness", "value_of_looking", "work_options"]
