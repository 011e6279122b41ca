"""Contours against forms whose level lines are known."""

import numpy as np
import pytest

from nestwright.charts.contours import contour_lines, finer


def test_circle_has_its_radius_and_is_closed():
    x = np.linspace(-2, 2, 81)
    radius = np.hypot(*np.meshgrid(x, x, indexing="ij"))
    (line,) = contour_lines(x, x, radius, 1.0)
    assert np.hypot(line[:, 0], line[:, 1]) == pytest.approx(1.0, abs=2e-3)
    assert line[0] == pytest.approx(line[-1])


def test_a_plane_gives_one_straight_line_from_edge_to_edge():
    x, y = np.linspace(0, 1, 7), np.linspace(0, 2, 9)
    plane = x[:, None] + 0 * y
    (line,) = contour_lines(x, y, plane, 0.4)
    assert line[:, 0] == pytest.approx(0.4)
    assert sorted((line[0, 1], line[-1, 1])) == pytest.approx([0, 2])


def test_two_hills_give_two_lines_and_nothing_beyond():
    x = np.linspace(-3, 3, 61)
    a, b = np.meshgrid(x, x, indexing="ij")
    hills = np.exp(-((a - 1.5) ** 2 + b**2) * 3) + np.exp(-((a + 1.5) ** 2 + b**2) * 3)
    assert len(contour_lines(x, x, hills, 0.5)) == 2
    assert contour_lines(x, x, hills, 5.0) == []


def test_saddle_is_cut_into_two_lines():
    x = np.array([0.0, 1.0])
    lines = contour_lines(x, x, np.array([[1.0, 0.0], [0.0, 1.0]]), 0.4)
    assert len(lines) == 2
    # The middle (0.5) is above 0.4, so the two low corners are cut off: each line stays near one of them.
    corners = {tuple(np.rint(line.mean(axis=0)).astype(int)) for line in lines}
    assert corners == {(0, 1), (1, 0)}


def test_finer_is_linear_between_and_keeps_the_old_points():
    grid = np.array([[0.0, 2.0], [4.0, 6.0]])
    fine = finer(grid, 2)
    assert fine[::2, ::2] == pytest.approx(grid)
    assert fine[1, 1] == pytest.approx(3.0)
