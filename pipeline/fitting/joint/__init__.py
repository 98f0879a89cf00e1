"""Two rated channels as two observations of one oil: correlated unit effects, and association within a drain.

plackett.py           two ratings of one drain under a constant global odds ratio
paired_drains.py      the drains of both channels, each with its rating on either
pair_quadrature.py    a unit's two effects: their density, its mode, and its integral
association.py        posterior of the correlation and the odds ratio, given the channels' own fits
joint_effects.py      unit effects of both channels together, for each draw
joint_fit.py          the step itself
measured_effects.py   a rated and a measured effect of a unit: their correlation, and what each says of the other
unit_condition.py     measured quantities joined with the channels that they go with
"""
