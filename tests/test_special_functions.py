"""SciPy's compiled functions without what wraps them, and the whole of it afterwards."""

import subprocess
import sys

import pytest

from sensitivity.spreads import special_functions

ALONE = """
import sys
from sensitivity.spreads.special_functions import bdtr, betaincinv, ndtr, ndtri, stdtrit
assert "scipy.special" not in sys.modules, "all of it was loaded"
import scipy.special
from scipy.stats import norm
for each in (bdtr, betaincinv, ndtr, ndtri, stdtrit):
    assert getattr(scipy.special, each.__name__) is each, each
print(norm.ppf(0.975) - ndtri(0.975))
"""


def test_loaded_alone_they_are_those_of_the_whole_which_loads_after():
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", ALONE], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert float(done.stdout) == 0.0


@pytest.mark.parametrize(
    ("function", "arguments", "printed", "digits"),
    [
        # NIST/SEMATECH e-Handbook of Statistical Methods, tables 1.3.6.7.1 and 1.3.6.7.2
        ("ndtr", (1.96,), 0.97500, 5),
        ("stdtrit", (10, 0.975), 2.228, 3),
        ("stdtrit", (15, 0.95), 1.753, 3),
        # closed forms: two heads at most of three fair coins; the median of a uniform's square
        ("bdtr", (2, 3, 0.5), 0.875, 9),
        ("betaincinv", (0.5, 1.0, 0.5), 0.25, 9),
    ],
)
def test_function_gives_the_printed_value(function, arguments, printed, digits):
    assert round(float(getattr(special_functions, function)(*arguments)), digits) == printed
