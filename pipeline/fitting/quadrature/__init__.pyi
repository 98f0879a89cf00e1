from .adaptive_quadrature import Drains as Drains
from .adaptive_quadrature import value_and_gradient as value_and_gradient
from .rating_probability import log_probability as log_probability
