"""Closed forms without a scene: water, drops, highlights, irradiance, exposure, flash, the lens train,
colour."""
