"""The normal distribution against SciPy's."""

from __future__ import annotations

import numpy as np
from scipy.special import log_ndtr, ndtr

from irspot.measurement.normal import log_normal_cdf, normal_cdf

PLACES = np.linspace(-6.0, 17.0, 9999).reshape(99, 101)


def test_the_share_below() -> None:
    assert normal_cdf(PLACES).shape == PLACES.shape
    np.testing.assert_allclose(normal_cdf(PLACES), ndtr(PLACES), rtol=1e-13)


def test_its_logarithm() -> None:
    np.testing.assert_allclose(log_normal_cdf(PLACES), log_ndtr(PLACES), atol=2e-6)
