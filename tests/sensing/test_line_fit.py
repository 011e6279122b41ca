"""Lines and curves with errors in both directions, against the literature and other libraries."""

import numpy as np
import pytest

from nestwright.sensing.line_fit import curve, line

odr = pytest.importorskip("scipy.odr", reason="SciPy 1.19 and later have none")

# Pearson's data with York's weights: York 1966, Can. J. Phys. 44:1079
X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500.0])


def intercept(fit):
    a = fit.coefficients[0] - fit.coefficients[1] * fit.centre
    return a, np.sqrt(fit.covariance[0, 0] + fit.centre**2 * fit.covariance[1, 1])


def test_pearsons_data_with_yorks_weights():
    """York et al. 2004, Am. J. Phys. 72:367, table II (values from memory)."""
    fit = line(X, Y, WX**-0.5, WY**-0.5)
    a, a_error = intercept(fit)
    assert a == pytest.approx(5.479910224, abs=1e-9)
    assert fit.coefficients[1] == pytest.approx(-0.480533407, abs=1e-9)
    assert a_error == pytest.approx(0.294971, abs=1e-6)
    assert np.sqrt(fit.covariance[1, 1]) == pytest.approx(0.057985, abs=1e-6)
    assert fit.chi2 / fit.freedom == pytest.approx(1.4833, abs=1e-4)


def test_line_as_orthogonal_distance_regression_finds_it():
    found = odr.ODR(odr.RealData(X, Y, WX**-0.5, WY**-0.5), odr.unilinear, beta0=[-0.5, 5.5]).run()
    fit = line(X, Y, WX**-0.5, WY**-0.5)
    assert fit.coefficients[1] == pytest.approx(found.beta[0], rel=1e-5)
    assert intercept(fit)[0] == pytest.approx(found.beta[1], rel=1e-5)
    assert fit.chi2 == pytest.approx(found.sum_square, rel=1e-6)
    # odr linearises at the measured points, York at the adjusted ones
    assert fit.covariance[1, 1] == pytest.approx(found.cov_beta[0, 0], rel=0.05)


def test_line_without_errors_in_x_is_polyfit():
    error = WY**-0.5
    fit = line(X, Y, 0.0, error)
    beta, covariance = np.polyfit(X - fit.centre, Y, 1, w=1 / error, cov="unscaled")
    assert fit.coefficients[::-1] == pytest.approx(beta, rel=1e-12)
    assert fit.covariance[::-1, ::-1] == pytest.approx(covariance, rel=1e-9, abs=1e-15)


def test_curve_without_errors_in_x_is_polyfit():
    error = WY**-0.5
    fit = curve(X, Y, 0.0, error)
    beta, covariance = np.polyfit(X - fit.centre, Y, 2, w=1 / error, cov="unscaled")
    assert fit.coefficients[::-1] == pytest.approx(beta, rel=1e-9)
    assert fit.covariance[::-1, ::-1] == pytest.approx(covariance, rel=1e-7)


def test_curve_with_errors_in_x_near_orthogonal_distance_regression():
    """Effective variance and orthogonal distance agree where the bend over one error is small."""
    x = np.array([0.11, 0.33, 0.54, 0.75, 0.85, 0.97])
    y = 0.02 + 0.9 * x + 0.15 * x**2 + 0.002 * np.array([1, -1, 0.5, -0.5, 1, -1])
    fit = curve(x, y, 0.003, 0.004)
    found = odr.ODR(odr.RealData(x, y, 0.003, 0.004), odr.quadratic, beta0=[0.1, 1.0, 0.0]).run()
    at = np.linspace(0.1, 1.0, 7)
    mine = np.polynomial.polynomial.polyval(at - fit.centre, fit.coefficients)
    assert mine == pytest.approx(np.polyval(found.beta, at), abs=1e-4)


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_scale_of_units_does_not_matter(scale):
    plain, scaled = line(X, Y, WX**-0.5, WY**-0.5), line(X * scale, Y * scale, scale * WX**-0.5, scale * WY**-0.5)
    assert scaled.coefficients[1] == pytest.approx(plain.coefficients[1], rel=1e-9)
    assert scaled.coefficients[0] == pytest.approx(plain.coefficients[0] * scale, rel=1e-9)
    assert scaled.chi2 == pytest.approx(plain.chi2, rel=1e-9)
