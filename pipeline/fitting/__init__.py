"""The rating model: links, quadrature, likelihood, priors, posterior."""
