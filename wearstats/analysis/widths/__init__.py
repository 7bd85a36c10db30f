"""The mixed model of spline widths: data, likelihood, fit and prediction."""
