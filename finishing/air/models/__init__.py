from finishing.air.models.sensors import Sensor
from finishing.air.models.weather import Ensemble, Forecast, Reading
from finishing.air.models.years import YearOfWeather

__all__ = [
    "Ensemble",
    "Forecast",
    "Reading",
    "Sensor",
    "YearOfWeather",
]
