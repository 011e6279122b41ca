"""How likely a record is under the growth model, compiled.

The skeleton of `kernel` gives garden and workers; around it both wander (log scale, independent daily steps: the
noise of growth, and for workers the births and deaths of a small number). Observations are log-normal about the
wandering value, so each channel is a scalar Kalman filter and the likelihood is exact (Kalman 1960, J Basic Eng
82:35). Seen and not seen are Bernoulli with the chance 1 - (1 - s)^n of seeing one of n.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.kernel import (
    EGGS,
    LARVAE,
    N_AGE,
    N_STATE,
    PUPAE,
    TAKEN_IN,
    WASTE,
    brood_of,
    garden_of,
    happen,
    run_day,
    set_day,
    start_state,
    weigh_food,
    workers_of,
)

KINDS = {"garden": 0, "workers": 1, "eggs": 2, "larvae": 3, "pupae": 4, "waste": 5, "leaves_taken": 6}
OFFSET = np.array([0.5, 0.5, 0.0, 0.0, 0.0, 0.02, 0.02])
"""Added before the logarithm, so that nothing seen has one: half a mL, half a worker, a fiftieth of a gram."""
LINK_LOG, LINK_LOGIT, LINK_RANGE = 0, 1, 2
LOG_TWO_PI = math.log(2.0 * math.pi)
SURVIVAL_MOST = 0.98
DAILY = 6
"""Columns of a run's daily table: garden mL, workers, steps of their wander (variances), total waste and intake."""


@nb.njit(cache=True, error_model="numpy")
def set_values(z, base, target, link, a, b, c, p):
    """The vector p of free values z (standard normal under the prior): exp(a + b z), with c for b where z is above 0,
    logistic, or a range [a, b]."""
    p[:] = base
    for j in range(z.shape[0]):
        if link[j] == LINK_LOG:
            value = math.exp(a[j] + (b[j] if z[j] < 0.0 else c[j]) * z[j])
        elif link[j] == LINK_LOGIT:
            value = 1.0 / (1.0 + math.exp(-(a[j] + b[j] * z[j])))
        else:
            value = a[j] + (b[j] - a[j]) * 0.5 * math.erfc(-z[j] / math.sqrt(2.0))
        p[target[j]] = value
    p[P.BROOD_SURVIVAL] = min(p[P.BROOD_SURVIVAL], SURVIVAL_MOST)
    p[P.NURSE_DAYS] = min(p[P.NURSE_DAYS], 0.8 * p[P.WORKER_DAYS])


@nb.njit(cache=True, error_model="numpy")
def wander(p, workers):
    """Variance that a day adds to the logarithms of garden and workers."""
    garden = p[P.NOISE] * p[P.NOISE]
    own = p[P.NOISE] * p[P.WORKER_NOISE]
    return garden, own * own + p[P.DEMOGRAPHIC] / p[P.WORKER_DAYS] / (workers + 1.0)


@nb.njit(cache=True, error_model="numpy")
def seen_chance(p, count):
    """Chance that brood of one stage is reported seen."""
    missed = (1.0 - p[P.SEEN_SHARE]) ** count
    return p[P.SEEN_FALSELY] + (1.0 - p[P.SEEN_FALSELY] - p[P.SEEN_MISSED]) * (1.0 - missed)


@nb.njit(cache=True, error_model="numpy")
def run_record(p, days, climate, room, events, record, step, state, filtered, daily, told):
    """Log-likelihood of a record under one vector.

    Parameters
    ----------
    p : (N_PARAMETERS,)
    days : int
        Length of the record; the run ends on the morning of that day, its events applied.
    climate : (n, 6)
        Temperature degC and the five depths by day.
    room : float
        mL before the first event, 0 for no limit.
    events : (day (e,), code (e,), value (e,))
    record : (day (n,), kind (n,), y (n,), error (n,), since (n,))
        y is log(value + OFFSET) or 0 and 1 for seen; error on the log scale.
    step : float
        Share of itself that the fastest chain moves in a step, at most.
    state : (N_STATE + 2,)
        Filled with the last state, room and queen.
    filtered : (4,)
        Filled with mean and variance of the wander of garden and of workers at the end.
    daily : (days + 1, DAILY) or (0, DAILY)
        Filled where it has rows.
    told : (n, 2) or (0, 2)
        Filled where it has rows: what the filter expected of each observation (log scale) and its variance.
    """
    event_day, event_kind, event_value = events
    ob_day, ob_kind, ob_y, ob_error, ob_since = record
    work = np.empty((5, N_STATE))
    day = np.empty(10)
    hold = np.array([room, p[P.QUEEN]])
    w = np.empty(N_AGE)
    weigh_food(p, w)
    y = state[:N_STATE]
    start_state(p, y)
    waste = np.empty(days + 1)
    intake = np.empty(days + 1)
    mean_g = mean_w = var_g = var_w = 0.0
    total = 0.0
    e = o = 0
    for t in range(days + 1):
        workers = workers_of(y)
        garden = garden_of(y, p)
        waste[t] = y[WASTE]
        intake[t] = y[TAKEN_IN]
        while o < ob_day.shape[0] and ob_day[o] < t + 1:
            kind = ob_kind[o]
            if kind >= 2 and kind <= 4:
                first = EGGS if kind == 2 else LARVAE if kind == 3 else PUPAE
                chance = seen_chance(p, brood_of(y, first))
                total += math.log(chance if ob_y[o] > 0.5 else 1.0 - chance)
                if told.shape[0] > 0:
                    told[o, 0] = chance
                    told[o, 1] = 0.0
            else:
                if kind == 0:
                    value = garden
                elif kind == 1:
                    value = workers
                elif kind == 5:
                    value = waste[t] - waste[int(ob_since[o])]
                else:
                    value = intake[t] - intake[int(ob_since[o])]
                error = ob_error[o] * p[P.ERROR_SCALE]
                of_workers = kind == 1
                expected = math.log(max(value, 0.0) + OFFSET[kind]) + (mean_w if of_workers else mean_g)
                before = var_w if of_workers else var_g
                spread = before + error * error
                off = ob_y[o] - expected
                total -= 0.5 * (LOG_TWO_PI + math.log(spread) + off * off / spread)
                gain = before / spread
                if of_workers:
                    mean_w += gain * off
                    var_w *= 1.0 - gain
                else:
                    mean_g += gain * off
                    var_g *= 1.0 - gain
                if told.shape[0] > 0:
                    told[o, 0] = expected
                    told[o, 1] = spread
            o += 1
        step_g, step_w = wander(p, workers)
        if daily.shape[0] > 0:
            daily[t, 0] = garden
            daily[t, 1] = workers
            daily[t, 2] = step_g
            daily[t, 3] = step_w
            daily[t, 4] = y[WASTE]
            daily[t, 5] = y[TAKEN_IN]
        while e < event_day.shape[0] and event_day[e] < t + 1:
            happen(y, p, event_kind[e], event_value[e], hold)
            e += 1
        if t < days:
            set_day(float(t), p, climate, hold[0], hold[1], day)
            run_day(y, p, w, day, step, work)
            var_g += step_g
            var_w += step_w
    state[N_STATE] = hold[0]
    state[N_STATE + 1] = hold[1]
    filtered[0], filtered[1], filtered[2], filtered[3] = mean_g, var_g, mean_w, var_w
    return total if math.isfinite(total) else -1e300


@nb.njit(cache=True, error_model="numpy")
def log_likelihood(z, base, target, link, a, b, c, days, climate, room, events, record, step):
    """Log-likelihood at free values z (d,)."""
    p = np.empty(base.shape[0])
    set_values(z, base, target, link, a, b, c, p)
    state = np.empty(N_STATE + 2)
    filtered = np.empty(4)
    none = np.empty((0, DAILY))
    return run_record(p, days, climate, room, events, record, step, state, filtered, none, np.empty((0, 2)))


@nb.njit(cache=True, parallel=True, nogil=True, error_model="numpy")
def log_likelihoods(zs, base, target, link, a, b, c, days, climate, room, events, record, step):
    """Log-likelihoods of many free values zs (n, d), on all cores."""
    out = np.empty(zs.shape[0])
    for i in nb.prange(zs.shape[0]):
        out[i] = log_likelihood(zs[i], base, target, link, a, b, c, days, climate, room, events, record, step)
    return out


@nb.njit(cache=True, error_model="numpy")
def smooth(daily, error_scale, record, normals, wanders):
    """One draw of the wander of garden and workers over the whole record, given all observations.

    Forward filter, backward sampling (Carter & Kohn 1994, Biometrika 81:541; Fruehwirth-Schnatter 1994, J Time Ser
    Anal 15:183) on a random walk. daily (days + 1, DAILY) as filled by `run_record`; normals (2, days + 1) standard
    normal; wanders (days + 1, 2) is filled.
    """
    ob_day, ob_kind, ob_y, ob_error, ob_since = record
    n = daily.shape[0]
    means = np.zeros((n, 2))
    variances = np.zeros((n, 2))
    mean = np.zeros(2)
    var = np.zeros(2)
    o = 0
    for t in range(n):
        while o < ob_day.shape[0] and ob_day[o] < t + 1:
            kind = ob_kind[o]
            if kind < 2 or kind > 4:
                if kind < 2:
                    value = daily[t, kind]
                else:
                    value = daily[t, kind - 1] - daily[int(ob_since[o]), kind - 1]
                c = 1 if kind == 1 else 0
                error = ob_error[o] * error_scale
                off = ob_y[o] - math.log(max(value, 0.0) + OFFSET[kind]) - mean[c]
                gain = var[c] / (var[c] + error * error)
                mean[c] += gain * off
                var[c] *= 1.0 - gain
            o += 1
        for c in range(2):
            means[t, c] = mean[c]
            variances[t, c] = var[c]
            var[c] += daily[t, 2 + c]
    for c in range(2):
        wanders[n - 1, c] = means[n - 1, c] + math.sqrt(variances[n - 1, c]) * normals[c, n - 1]
        for t in range(n - 2, -1, -1):
            ahead = variances[t, c] + daily[t, 2 + c]
            gain = variances[t, c] / ahead if ahead > 0.0 else 0.0
            centre = means[t, c] + gain * (wanders[t + 1, c] - means[t, c])
            wanders[t, c] = centre + math.sqrt(max(variances[t, c] * (1.0 - gain), 0.0)) * normals[c, t]
