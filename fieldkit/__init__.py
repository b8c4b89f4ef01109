"""Prepare ageing, laden off-road vehicles for places with no workshop and no signal."""
