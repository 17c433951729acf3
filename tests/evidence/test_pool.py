"""The consensus of samples that disagree: against statsmodels, against sums done by hand, and its promises."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from finishmatch.evidence.groups import tau_grid
from finishmatch.evidence.pool import dersimonian_laird, paule_mandel, robust_mean


@pytest.mark.parametrize(("ours", "theirs"), [(paule_mandel, "iterated"), (dersimonian_laird, "chi2")])
def test_one_number_a_sample_is_pooled_as_statsmodels_does(ours: object, theirs: str) -> None:
    """Outside truth: `combine_effects` of statsmodels, 200 random sets of samples."""
    r = np.random.default_rng(3)
    for _ in range(200):
        n = int(r.integers(2, 9))
        effect, variance = r.normal(0, 2, n), r.uniform(0.1, 2, n)
        with np.errstate(invalid="ignore"):  # theirs goes below 0 by one step of moments
            known = combine_effects(effect, variance, method_re=theirs)
        found = ours(effect[:, None], np.diag(variance))  # type: ignore[operator]
        assert found.tau2 == pytest.approx(
            max(known.tau2, 0), abs=1e-4
        )  # theirs stops where the misfit is right to 1e-5
        if known.tau2 >= 0:
            assert found.mean[0] == pytest.approx(known.mean_effect_re, abs=1e-5)
            assert np.sqrt(found.covariance[0, 0]) == pytest.approx(known.sd_eff_w_re, abs=1e-5)
        assert found.weights[:, 0, 0].sum() == pytest.approx(1)


def test_a_worked_example_by_hand() -> None:
    """10, 12 and 17, each with variance 1: misfit (9 + 1 + 16) / (1 + t) = 2, so t = 12; mean 13, variance 13/3."""
    y = np.array([[10.0], [12.0], [17.0]])
    for pooled in (paule_mandel(y, np.eye(3)), dersimonian_laird(y, np.eye(3))):
        assert pooled.tau2 == pytest.approx(12)
        assert pooled.mean[0] == pytest.approx(13)
        assert pooled.covariance[0, 0] == pytest.approx(13 / 3)
    # 0 and 6 with variances 1 and 2: 36 / (3 + 2 t) = 1, so t = 16.5; mean 6 (1/18.5) / (1/17.5 + 1/18.5) = 6 · 17.5/36
    found = paule_mandel(np.array([[0.0], [6.0]]), np.diag([1.0, 2.0]))
    assert found.tau2 == pytest.approx(16.5)
    assert found.mean[0] == pytest.approx(6 * 17.5 / 36)


def test_three_numbers_share_one_excess_by_hand() -> None:
    """Two samples apart by (6, 0, 0): 36 / (2 (1 + t)) = 3 · 1, so t = 5; the mean is the middle."""
    y = np.array([[0.0, 0, 0], [6.0, 0, 0]])
    found = paule_mandel(y, np.eye(6))
    assert found.tau2 == pytest.approx(5)
    np.testing.assert_allclose(found.mean, [3, 0, 0], atol=1e-12)
    np.testing.assert_allclose(found.covariance, 3 * np.eye(3), atol=1e-12)


def test_an_error_that_samples_share_is_not_averaged_out() -> None:
    """Ten samples with own variance 1 and a shared one of 4: the mean has 1/10 + 4."""
    n = 10
    V = np.kron(np.eye(n) + 4 * np.ones((n, n)), np.eye(3))
    found = paule_mandel(np.zeros((n, 3)), V)
    np.testing.assert_allclose(found.covariance, 4.1 * np.eye(3), atol=1e-9)


def test_samples_of_one_place_share_their_deviation() -> None:
    """Two of three samples are one place: with a large excess the two count as one."""
    y = np.array([[0.0, 0, 0], [0.0, 0, 0], [30.0, 0, 0]])
    B = np.array([[1.0, 1, 0], [1, 1, 0], [0, 0, 1]])
    found = paule_mandel(y, np.eye(9), B)
    assert found.tau2 > 50
    assert found.mean[0] == pytest.approx(15, abs=0.2)
    # a difference within one place is no excess between places
    assert paule_mandel(y[[0, 2]], np.eye(6), np.ones((2, 2))).tau2 == 0


def test_samples_that_agree_leave_no_excess() -> None:
    y = np.array([[0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]])
    assert paule_mandel(y, np.eye(9)).tau2 == 0
    assert dersimonian_laird(y, np.eye(9)).tau2 == 0
    assert paule_mandel(y[:1], np.eye(3)).tau2 == 0


def test_a_far_sample_pulls_the_robust_mean_less() -> None:
    r = np.random.default_rng(5)
    y = np.concatenate([0.5 * r.standard_normal((6, 3)), [[12.0, 0, 0]]])
    own = np.tile(0.25 * np.eye(3), (7, 1, 1))
    V = np.kron(np.eye(7), 0.25 * np.eye(3))
    plain, robust = paule_mandel(y, V).mean, robust_mean(y, V, own).mean
    assert plain[0] > 1.2
    assert np.linalg.norm(robust) < 0.6
    # and where none is far, the two say the same
    agree = slice(0, 6)
    near = paule_mandel(y[agree], V[:18, :18]).mean - robust_mean(y[agree], V[:18, :18], own[agree]).mean
    assert np.linalg.norm(near) < 0.1


def test_half_of_what_is_believed_of_an_excess_lies_below_three_quarters_of_its_scale() -> None:
    """Three quarters of Student's t with four degrees of freedom lie below 0.741 (any table of t), half of its half."""
    tau, log_weights = tau_grid(2.0)
    weights = np.exp(log_weights)
    below = np.interp(0.741 * 2.0, tau, np.cumsum(weights) - weights / 2)
    assert below == pytest.approx(0.5, abs=0.02)
    assert 0 < tau[0] < tau[-1] < 30 * 2.0  # thirty scales, beyond which nothing is believed
