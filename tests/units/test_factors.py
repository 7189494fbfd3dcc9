"""Every factor is that of scipy.constants, to the last bit."""

import pytest
from evenfall.units import factors
from scipy import constants

NAMES = [name for name in vars(factors) if name.isupper()]


@pytest.mark.parametrize("name", NAMES)
def test_a_factor_is_that_of_scipy(name):
    assert getattr(factors, name) == getattr(constants, {"G": "g", "GALLON_US": "gallon_US", "DEGREE_FAHRENHEIT":
                                             "degree_Fahrenheit", "FLUID_OUNCE_US": "fluid_ounce_US"}.get(
                                                 name, name.lower()))
