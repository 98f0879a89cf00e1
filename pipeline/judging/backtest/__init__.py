"""How earlier predictions would have held: refit as of past dates, predict the drains that followed, score them."""
