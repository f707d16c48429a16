"""Pictures of years and of forecasts gone by."""
