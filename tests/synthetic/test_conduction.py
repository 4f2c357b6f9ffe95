"""The sheet's heat against analytic solutions and against a sparse matrix of the coupled faces."""

import numpy as np
import pytest

from irspot.synthetic.conduction import Sheet, rises, spread_power

AWKWARD = Sheet(61.0, 37.0, spread_w_per_k=0.031, loss_w_per_m2k=9.5, through_m2k_per_w=2.1e-4, step_mm=0.9)


def test_even_heating_rises_by_flux_over_losses():
    # With q into each face and losses h from each, nothing flows sideways or through: the rise is q / h.
    flux = np.full(AWKWARD.cells, 310.0)
    front, rear = rises(AWKWARD, flux, flux)
    np.testing.assert_allclose(front, 310.0 / 9.5, rtol=1e-12)
    np.testing.assert_allclose(rear, 310.0 / 9.5, rtol=1e-12)


def test_even_heating_of_one_face_drops_through_the_board():
    # h F + (F - R) / r = q and h R = (F - R) / r, solved by hand.
    q, h, r = 310.0, AWKWARD.loss_w_per_m2k, AWKWARD.through_m2k_per_w
    front, rear = rises(AWKWARD, np.full(AWKWARD.cells, q), np.zeros(AWKWARD.cells))
    rear_by_hand = q / (h * (2.0 + h * r))
    np.testing.assert_allclose(rear, rear_by_hand, rtol=1e-12)
    np.testing.assert_allclose(front, rear_by_hand * (1.0 + h * r), rtol=1e-12)


def test_all_power_leaves_through_the_faces():
    flux = spread_power(AWKWARD, (3.3, 5.1, 11.7, 9.4), 2.7) + spread_power(AWKWARD, (40.0, 30.0, 61.0, 37.0), 1.1)
    front, rear = rises(AWKWARD, flux, spread_power(AWKWARD, (20.0, 2.0, 22.5, 2.9), 0.6))
    cell_m2 = AWKWARD.cell_mm[0] * AWKWARD.cell_mm[1] * 1e-6
    assert AWKWARD.loss_w_per_m2k * (front.sum() + rear.sum()) * cell_m2 == pytest.approx(4.4, rel=1e-12)


def test_spread_power_keeps_power_and_centre():
    flux = spread_power(AWKWARD, (3.37, 5.11, 11.73, 9.4), 2.7)
    tall, wide = AWKWARD.cell_mm
    y, x = np.indices(flux.shape)
    assert flux.sum() * tall * wide * 1e-6 == pytest.approx(2.7, rel=1e-12)
    assert (flux * (x + 0.5) * wide).sum() / flux.sum() == pytest.approx((3.37 + 11.73) / 2, abs=0.02)
    assert (flux * (y + 0.5) * tall).sum() / flux.sum() == pytest.approx((5.11 + 9.4) / 2, abs=0.02)


def test_a_strip_heated_on_one_side_is_two_fins():
    """A board heated over x < a, on the front alone, is a pair of one-dimensional fins.

    S'' - m² (S - Q / h) = 0 over the heated part and S'' - m² S = 0 beyond it, insulated ends, value and slope
    continuous at a; m² = h / (k t / 2) for the sum of the faces and (h + 2 / r) / (k t / 2) for their difference
    (the textbook fin equation, solved by hand for a source over a part of the length).
    """
    sheet = Sheet(120.0, 15.0, spread_w_per_k=0.05, loss_w_per_m2k=12.0, through_m2k_per_w=1.5e-3, step_mm=0.5)
    width, a, q = 0.120, 0.030, 900.0
    flux = np.zeros(sheet.cells)
    flux[:, : round(a * 1000 / sheet.cell_mm[1])] = q
    front, rear = rises(sheet, flux, np.zeros(sheet.cells))
    x = (np.arange(sheet.cells[1]) + 0.5) * sheet.cell_mm[1] * 1e-3

    def fin(loss):
        m = np.sqrt(loss / (sheet.spread_w_per_k / 2))
        heated = 1.0 - np.sinh(m * (width - a)) * np.cosh(m * x) / np.sinh(m * width)
        beyond = np.sinh(m * a) * np.cosh(m * (width - x)) / np.sinh(m * width)
        return q / loss * np.where(x < a, heated, beyond)

    both, difference = fin(12.0), fin(12.0 + 2.0 / 1.5e-3)
    for row in (0, sheet.cells[0] // 2):
        np.testing.assert_allclose(front[row], (both + difference) / 2, atol=2e-3 * both.max())
        np.testing.assert_allclose(rear[row], (both - difference) / 2, atol=2e-3 * both.max())


def test_cosine_transform_agrees_with_a_sparse_matrix_of_both_faces():
    from scipy.sparse import bmat, diags, identity, kron
    from scipy.sparse.linalg import spsolve

    sheet = Sheet(23.0, 14.0, spread_w_per_k=0.04, loss_w_per_m2k=11.0, through_m2k_per_w=3e-4, step_mm=1.0)
    rows, columns = sheet.cells
    random = np.random.default_rng(5)
    front_flux, rear_flux = random.uniform(0, 500, (2, rows, columns))

    def second_difference(count, cell_mm):
        middle = np.full(count, -2.0)
        middle[[0, -1]] = -1.0
        ones = np.ones(count - 1)
        return diags([ones, middle, ones], [-1, 0, 1]) / (cell_mm * 1e-3) ** 2

    laplacian = kron(second_difference(rows, sheet.cell_mm[0]), identity(columns)) + kron(
        identity(rows), second_difference(columns, sheet.cell_mm[1])
    )
    through = 1.0 / sheet.through_m2k_per_w
    own = -0.02 * laplacian + (11.0 + through) * identity(rows * columns)
    across = -through * identity(rows * columns)
    solved = spsolve(
        bmat([[own, across], [across, own]]).tocsc(), np.concatenate([front_flux.ravel(), rear_flux.ravel()])
    )
    front, rear = rises(sheet, front_flux, rear_flux)
    np.testing.assert_allclose(np.concatenate([front.ravel(), rear.ravel()]), solved, rtol=1e-9)
