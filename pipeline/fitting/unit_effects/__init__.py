"""Each unit's own effect, given its ratings and the parameters.

`grid_draws` draws it for every posterior draw of the parameters from its exact conditional density. Where units are
many, `first_order_draws` tabulates that density once and moves it with the parameters to first order.
`unit_sensitivity` gives the conditional mode, its variance and its derivatives by the parameters, from which
the value of a further drain is computed.
"""
