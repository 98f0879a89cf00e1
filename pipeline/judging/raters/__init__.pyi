from .rater_agreement import RaterAgreement as RaterAgreement
from .rater_result import HARSHER as HARSHER
from .rater_result import LENIENT as LENIENT
from .rater_result import RaterFinding as RaterFinding
from .rater_result import RaterResult as RaterResult
