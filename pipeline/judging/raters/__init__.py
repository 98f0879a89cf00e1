"""Raters: how far two agree on the same drains, who rates dirtier or cleaner, and whose standard drifts over time.

`rater_agreement` compares ratings of the same drains, `rater_shift` gives each rater's effect in rating levels,
`rater_drift` tests for a trend in time, and `rater_result` puts the findings of one channel together.
"""
