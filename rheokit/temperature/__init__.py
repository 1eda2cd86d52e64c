"""Temperature: laws, from the coldest to the hottest use; flow curves on one master curve; a number corrected to another temperature."""

from rheokit.temperature.arrhenius import ARRHENIUS, arrhenius
from rheokit.temperature.correction import TemperatureCoefficient, at_stated_temperature
from rheokit.temperature.dependence import TemperatureDependence, temperature_dependence
from rheokit.temperature.exponential_decay import EXPONENTIAL_DECAY, exponential_decay
from rheokit.temperature.master_curve import MasterCurve, master_curve
from rheokit.temperature.shift_law import WILLIAMS_LANDEL_FERRY, williams_landel_ferry
from rheokit.temperature.vogel import VOGEL

__all__ = [
    "ARRHENIUS",
    "EXPONENTIAL_DECAY",
    "TEMPERATURE_LAWS",
    "VOGEL",
    "WILLIAMS_LANDEL_FERRY",
    "MasterCurve",
    "TemperatureCoefficient",
    "TemperatureDependence",
    "arrhenius",
    "at_stated_temperature",
    "exponential_decay",
    "master_curve",
    "temperature_dependence",
    "williams_landel_ferry",
]

TEMPERATURE_LAWS = (ARRHENIUS, VOGEL, WILLIAMS_LANDEL_FERRY, EXPONENTIAL_DECAY)
"""The temperature laws, a quantity over the temperature [K], each listed once."""
