"""A quantity over time."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.series import Series


def series(time_s: list[float], value: list[float]) -> Series:
    return Series("ps", "zone", "degC", np.array(time_s), np.array(value), np.full(len(value), 0.1), 1.0)


def test_values_between_samples_and_none_beyond() -> None:
    found = series([0.0, 10.0, 20.0], [20.0, np.nan, 40.0])
    assert found.at(np.array([-1.0, 0.0, 5.0, 20.0, 21.0])) == pytest.approx([np.nan, 20, 25, 40, np.nan], nan_ok=True)
    assert list(found.known.time_s) == [0.0, 20.0]
    assert np.isnan(series([0.0], [np.nan]).at(np.array([0.0]))).all()


@pytest.mark.parametrize("time_s", [[0.0, 0.0], [1.0, 0.0], [0.0, np.nan], [0.0, 1.0, 2.0]])
def test_times_have_to_rise_and_to_fit(time_s: list[float]) -> None:
    with pytest.raises(ValueError, match="ps"):
        series(time_s, [1.0, 2.0])
