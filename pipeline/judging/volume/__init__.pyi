from .unit_balance import UnitBalance as UnitBalance
from .unit_balance import VolumeResult as VolumeResult
from .volume_words import BALANCED as BALANCED
from .volume_words import LOSES as LOSES
from .volume_words import STEP as STEP
from .volume_words import USUAL as USUAL
