"""Fit of a plant to one vehicle from its logged runs, and what that is worth on runs the fit has not seen."""
