from .association import Association as Association
from .joint_fit import JointFit as JointFit
from .joint_fit import join_channels as join_channels
from .joint_fit import joint_effect_draws as joint_effect_draws
from .plackett import both_past as both_past
