from .unit_balance import UnitBalance as UnitBalance
from .unit_balance import VolumeResult as VolumeResult
from .volume_sentences import BALANCED as BALANCED
from .volume_sentences import LOSES as LOSES
from .volume_sentences import STEP as STEP
from .volume_sentences import USUAL as USUAL
