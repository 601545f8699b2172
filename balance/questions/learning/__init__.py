"""What readings teach: unknowns with their priors, the fit, and how sure it leaves each flow."""
