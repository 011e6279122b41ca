"""Rates of change of every state and, on request, their exact Jacobian, element by element.

One routine serves both so that they cannot drift apart; `tests/network/test_kernel.py` compares the Jacobian
with differences. Equations and sources: docs/how-it-computes/network.md.
"""

from __future__ import annotations

import math
from typing import Any

import numba as nb
import numpy as np

from nestwright.network.arrays import T_REF, Floats, Ints, Net

jit: Any = nb.njit(cache=True, nogil=True, error_model="numpy")
# within its caller: to hand over the many arrays of a network costs a twentieth of the whole
within: Any = nb.njit(cache=True, nogil=True, error_model="numpy", forceinline=True)

# Rows of the zone work array: primitive values and their slopes along the states.
ZT, ZT_H, ZT_M, XV, XV_T, XV_M, XC, XC_T, XC_C, XO, XO_T, XO_O, RHO, RHO_T, RHO_V, RHO_C, RHO_O = range(17)


@jit
def saturation(start: float, step: float, table: Floats, temperature: float) -> tuple[float, float]:
    """Saturation pressure and its slope by cubic Hermite interpolation of the table (straight beyond its ends)."""
    u = (temperature - start) / step
    n = table.shape[0] - 1
    if not u > 0.0:
        return table[0, 0] + table[0, 1] * (temperature - start), table[0, 1]
    if u >= n:
        return table[n, 0] + table[n, 1] * (temperature - start - n * step), table[n, 1]
    i = int(u)
    s = u - i
    a, b = table[i, 0], table[i + 1, 0]
    c, d = table[i, 1] * step, table[i + 1, 1] * step
    p2 = 3.0 * (b - a) - 2.0 * c - d
    p3 = 2.0 * (a - b) + c + d
    return a + s * (c + s * (p2 + s * p3)), (c + s * (2.0 * p2 + 3.0 * s * p3)) / step


@jit
def bernoulli(u: float) -> tuple[float, float]:
    """u/(exp(u)-1) and its slope."""
    if abs(u) < 1e-2:
        v = u * u
        return 1.0 - 0.5 * u + v / 12.0 - v * v / 720.0, -0.5 + u / 6.0 - u * v / 180.0
    if u > 500.0:
        return 0.0, 0.0
    if u < -500.0:
        return -u, -1.0
    e = math.exp(u)
    q = 1.0 / (e - 1.0)
    return u * q, q - u * e * q * q


@jit
def through(g: float, q: float, xa: float, xb: float) -> tuple[float, float, float, float, float]:
    """Exchange by conductance g with net flow q from a to b: flux and slopes along xa, xb, g, q.

    The exact solution of steady advection with diffusion in a straight passage, so that flow and diffusion
    are not counted twice (Patankar, Numerical Heat Transfer and Fluid Flow, section 5.2).
    """
    b, db = bernoulli(q / g)
    fa = g * b + q
    fb = -g * b
    flux = fa * xa + fb * xb
    fq = (1.0 + db) * xa - db * xb
    return flux, fa, fb, (flux - q * fq) / g, fq


@jit
def put(record: bool, rows: Ints, cols: Ints, net: Net, a: Floats, k: int, row: int, col: int, value: float) -> int:
    if row >= 0 and col >= 0:
        if record:
            rows[k] = row
            cols[k] = col
        else:
            a[net.slot[k]] += value * net.row_scale[row]
        return k + 1
    return k


@jit
def put_heat(
    record: bool, rows: Ints, cols: Ints, net: Net, a: Floats, k: int, row: int, j: int, th: float, tm: float, v: float
) -> int:
    """Slope v along node j's temperature, carried to its energy and water states."""
    k = put(record, rows, cols, net, a, k, row, net.heat[j], v * th)
    return put(record, rows, cols, net, a, k, row, net.water[j] if net.water_heat[j] > 0.0 else -1, v * tm)


@jit
def add(f: Floats, row: int, value: float) -> None:
    if row >= 0:
        f[row] += value


@within
def prepare(net: Net, y: Floats, temp: Floats, th: Floats, tm: Floats, w: Floats) -> None:
    """Temperatures of all nodes, and the primitive values of all zones with their slopes."""
    R, mv, mr, mc, mo = net.gas[0], net.gas[1], net.gas[2], net.gas[3], net.gas[4]
    p = net.pressure
    for j in range(net.room):
        m = y[net.water[j]] if net.water[j] >= 0 else 0.0
        c = net.capacity[j] + net.water_heat[j] * m
        if not c > 0.5 * net.capacity[j]:
            c = 0.5 * net.capacity[j]
        above = (net.capacity[j] * y[net.heat[j]] - net.latent[j] * m) / c
        temp[j] = T_REF + above
        th[j] = net.capacity[j] / c
        tm[j] = -(net.latent[j] + net.water_heat[j] * above) / c
    temp[net.room] = T_REF + y[net.heat[net.room]]
    th[net.room] = 1.0
    tm[net.room] = 0.0
    for n in range(net.zones + 1):
        j = n if n < net.zones else net.room
        # zone work columns: the zones first, the room last
        t = temp[j]
        w[ZT, n], w[ZT_H, n], w[ZT_M, n] = t, th[j], tm[j]
        if n < net.zones:
            kv = R / (p * net.volume[n])
            m, c, o = y[net.water[j]], y[net.co2[n]], y[net.o2[n]]
            w[XV, n], w[XV_T, n], w[XV_M, n] = kv * m * t / mv, kv * m / mv, kv * t / mv
            w[XC, n], w[XC_T, n], w[XC_C, n] = kv * c * t, kv * c, kv * t
            w[XO, n], w[XO_T, n], w[XO_O, n] = kv * o * t, kv * o, kv * t
        else:
            dry = 1.0 - y[net.water[j]]
            w[XV, n], w[XV_T, n], w[XV_M, n] = y[net.water[j]], 0.0, 1.0
            w[XC, n], w[XC_T, n], w[XC_C, n] = net.room_co2 * dry, 0.0, 0.0
            w[XO, n], w[XO_T, n], w[XO_O, n] = net.room_o2 * dry, 0.0, 0.0
        d = p / (R * t)
        mean = mr + (mv - mr) * w[XV, n] + (mc - mr) * w[XC, n] + (mo - mr) * w[XO, n]
        w[RHO, n] = d * mean
        w[RHO_T, n] = -d * mean / t
        w[RHO_V, n], w[RHO_C, n], w[RHO_O, n] = d * (mv - mr), d * (mc - mr), d * (mo - mr)


@jit
def evaluate(
    net: Net,
    y: Floats,
    drive: Floats,
    on: Floats,
    f: Floats,
    want: bool,
    a: Floats,
    record: bool,
    rows: Ints,
    cols: Ints,
    temp: Floats,
    th: Floats,
    tm: Floats,
    w: Floats,
) -> int:
    """Rates f(y); with `want` also the Jacobian into the slots of `a` (or, recording, its pattern)."""
    R, mv = net.gas[0], net.gas[1]
    cv, cw, lat, air = net.gas[5], net.gas[6], net.gas[7], net.gas[8]
    grav, fog_rate, drip_rate = net.gas[9], net.gas[10], net.gas[11]
    p = net.pressure
    k = np.int64(0)  # no literal: the parts would be compiled for it once more
    prepare(net, y, temp, th, tm, w)
    for i in range(net.size):
        f[i] = 0.0
    if want and not record:
        for i in range(a.shape[0]):
            a[i] = 0.0

    for n in range(net.link.shape[0]):
        i, j = net.link[n, 0], net.link[n, 1]
        g = net.link_g[n]
        q = g * (temp[i] - temp[j])
        ri, rj = net.row_heat[i], net.row_heat[j]
        f[ri] -= q
        f[rj] += q
        if want:
            k = put_heat(record, rows, cols, net, a, k, ri, i, th[i], tm[i], -g)
            k = put_heat(record, rows, cols, net, a, k, ri, j, th[j], tm[j], g)
            k = put_heat(record, rows, cols, net, a, k, rj, i, th[i], tm[i], g)
            k = put_heat(record, rows, cols, net, a, k, rj, j, th[j], tm[j], -g)

    for n in range(net.permeation.shape[0]):
        i, j = net.permeation[n, 0], net.permeation[n, 1]
        g = net.permeation_g[n] * p
        ni, nj = net.zones if i == net.room else i, net.zones if j == net.room else j
        flux = g * (w[XV, ni] - w[XV, nj])
        heat = lat + cv * (0.5 * (temp[i] + temp[j]) - T_REF)
        for side in range(2):
            s = -1.0 if side == 0 else 1.0
            e = i if side == 0 else j
            f[net.row_heat[e]] += s * flux * heat
            f[net.row_water[e]] += s * flux
            if want:
                for end in range(2):
                    z = i if end == 0 else j
                    nz = ni if end == 0 else nj
                    sg = g if end == 0 else -g
                    vt = 0.5 * flux * cv
                    k = put_zone2(record, rows, cols, net, a, k, net.row_heat[e], z, nz, w, s * vt, s * sg * heat)
                    k = put_zone2(record, rows, cols, net, a, k, net.row_water[e], z, nz, w, 0.0, s * sg)

    k = openings(net, y, f, want, a, record, rows, cols, w, k, R, mv, cv, lat, air, grav, p)
    k = surfaces(net, y, f, want, a, record, rows, cols, temp, th, tm, w, k, R, mv, cv, lat, p)

    for n in range(net.fog.shape[0]):
        z, j = net.fog[n, 0], net.fog[n, 1]
        sat, slope = saturation(net.table_start, net.table_step, net.table, temp[z])
        over = w[XV, z] * p - sat
        s = fog_rate * net.volume[z] * mv / (R * T_REF)
        if over <= 0.0:
            s = 0.0
        flux = s * over
        heat = cw * (temp[z] - T_REF)
        f[net.row_water[z]] -= flux
        f[net.row_heat[z]] -= flux * heat
        f[net.row_water[j]] += flux
        f[net.row_heat[j]] += flux * heat
        if want:
            for side in range(2):
                sg = -1.0 if side == 0 else 1.0
                e = z if side == 0 else j
                k = put_zone2(record, rows, cols, net, a, k, net.row_water[e], z, z, w, -sg * s * slope, sg * s * p)
                k = put_zone2(
                    record,
                    rows,
                    cols,
                    net,
                    a,
                    k,
                    net.row_heat[e],
                    z,
                    z,
                    w,
                    sg * (flux * cw - s * slope * heat),
                    sg * s * p * heat,
                )

    for n in range(net.overflow.shape[0]):
        i = net.overflow[n, 0]
        limit, share = net.overflow_v[n, 0], net.overflow_v[n, 1]
        over = y[net.water[i]] - limit
        s = drip_rate if over > 0.0 else 0.0
        flux = s * over
        heat = cw * (temp[i] - T_REF)
        f[net.row_water[i]] -= flux
        f[net.row_heat[i]] -= flux * heat
        if want:
            k = put(record, rows, cols, net, a, k, net.row_water[i], net.water[i], -s)
            k = put(record, rows, cols, net, a, k, net.row_heat[i], net.water[i], -s * heat - flux * cw * tm[i])
            k = put(record, rows, cols, net, a, k, net.row_heat[i], net.heat[i], -flux * cw * th[i])
        for side in range(2):
            to = net.overflow[n, 1 + side]
            part = share if side == 0 else 1.0 - share
            if to >= 0:
                rw, rh = net.row_water[to], net.row_heat[to]
            else:
                rw, rh = net.overflow[n, 3], net.overflow[n, 4]
            add(f, rw, part * flux)
            add(f, rh, part * flux * heat)
            if want:
                k = put(record, rows, cols, net, a, k, rw, net.water[i], part * s)
                k = put(record, rows, cols, net, a, k, rh, net.water[i], part * (s * heat + flux * cw * tm[i]))
                k = put(record, rows, cols, net, a, k, rh, net.heat[i], part * flux * cw * th[i])
            if side == 0 and net.overflow[n, 5] >= 0:
                add(f, net.overflow[n, 5], part * flux)
                if want:
                    k = put(record, rows, cols, net, a, k, net.overflow[n, 5], net.water[i], part * s)

    k = gardens(net, y, f, want, a, record, rows, cols, temp, th, tm, w, k, mv)

    for n in range(net.heater.shape[0]):
        j, sensor, control = net.heater[n, 0], net.heater[n, 1], net.heater[n, 2]
        watts, top, band = net.heater_v[n, 0], net.heater_v[n, 1], net.heater_v[n, 2]
        q, slope = watts * on[n], 0.0
        if control == 1 or (control == 2 and on[n] < 0.0):
            x = (top - temp[sensor]) / band
            q = watts * min(1.0, max(0.0, x))
            if 0.0 < x < 1.0:
                slope = -watts / band
        for r in (net.row_heat[j], net.heater[n, 3], net.heater[n, 4]):
            f[r] += q
            if want:
                k = put_heat(record, rows, cols, net, a, k, r, sensor, th[sensor], tm[sensor], slope)

    for i in range(net.size):
        f[i] *= net.row_scale[i]
    f[net.heat[net.room]] = drive[0]
    f[net.water[net.room]] = drive[1]
    return k


@jit
def put_zone2(
    record: bool,
    rows: Ints,
    cols: Ints,
    net: Net,
    a: Floats,
    k: int,
    row: int,
    z: int,
    n: int,
    w: Floats,
    vt: float,
    vv: float,
) -> int:
    """Slopes along the temperature and vapour fraction of zone z (work column n)."""
    t = vt + vv * w[XV_T, n]
    k = put(record, rows, cols, net, a, k, row, net.heat[z], t * w[ZT_H, n])
    return put(record, rows, cols, net, a, k, row, net.water[z], t * w[ZT_M, n] + vv * w[XV_M, n])


@within
def openings(
    net: Net,
    y: Floats,
    f: Floats,
    want: bool,
    a: Floats,
    record: bool,
    rows: Ints,
    cols: Ints,
    w: Floats,
    k: int,
    R: float,
    mv: float,
    cv: float,
    lat: float,
    air: float,
    grav: float,
    p: float,
) -> int:
    g4 = np.empty(4)
    for n in range(net.opening.shape[0]):
        i, j, kind = net.opening[n, 0], net.opening[n, 1], net.opening[n, 2]
        ni, nj = net.zones if i == net.room else i, net.zones if j == net.room else j
        v = net.opening_v[n]
        height, lin, quad, inert, visc, threshold = v[0], v[1], v[2], v[3], v[4], v[5]
        # net flow i -> j from pressure and weight of the air
        pi = y[net.flow[i]] if net.flow[i] >= 0 else 0.0
        pj = y[net.flow[j]] if net.flow[j] >= 0 else 0.0
        dp = pi - pj - grav * height * (w[RHO, ni] - w[RHO, nj])
        root = math.sqrt(lin * lin + 4.0 * quad * abs(dp))
        q = 2.0 * dp / (lin + root)
        q_p = 1.0 / root
        # exchange without net flow, i the upper side of a level opening
        s = w[RHO, ni] - w[RHO, nj]
        x, x_s = 0.0, 0.0
        sign = 1.0
        if kind == 1 and s < 0.0:
            sign = -1.0
        s = sign * s - threshold
        if kind > 0 and s > 0.0:
            r = math.sqrt(s)
            base = inert + visc * r
            x = inert * visc * s / base
            x_s = sign * inert * visc * (inert + 0.5 * visc * r) / (base * base)
        tm = 0.5 * (w[ZT, ni] + w[ZT, nj])
        c = p / (R * tm)
        rel = (tm - T_REF) / T_REF
        xm = 0.5 * (w[XV, ni] + w[XV, nj])
        stefan = 1.0 / (1.0 - xm)
        for m in range(4):
            e = v[10 + m]
            g4[m] = v[6 + m] * (1.0 + e * rel + 0.5 * e * (e - 1.0) * rel * rel)
        g4[0] *= stefan
        for m in range(4):
            gd = g4[m]
            g = math.sqrt(gd * gd + x * x)
            e = v[10 + m]
            gd_t = v[6 + m] * (e + e * (e - 1.0) * rel) / T_REF * 0.5
            gd_v = 0.0
            if m == 0:
                gd_t *= stefan
                gd_v = 0.5 * gd * stefan
            if m < 3:
                col = XV if m == 0 else (XC if m == 1 else XO)
                xa, xb = w[col, ni], w[col, nj]
            else:
                xa, xb = w[ZT, ni] - T_REF, w[ZT, nj] - T_REF
            flux, fa, fb, fg, fq = through(g, q, xa, xb)
            unit = c * (mv if m == 0 else (air if m == 3 else 1.0))
            flux *= unit
            f_x = unit * fg * x / g
            f_gd = unit * fg * gd / g
            fq *= unit
            # slopes along the density difference (through x and q), along each end's own values, along tm
            rho_i = f_x * x_s - fq * q_p * grav * height
            rho_j = -f_x * x_s + fq * q_p * grav * height
            by_t = f_gd * gd_t - 0.5 * flux / tm
            by_v = f_gd * gd_v
            ai, aj = unit * fa, unit * fb
            heat = 0.0
            if m == 0:
                heat = lat + cv * (tm - T_REF)
            for side in range(2):
                sg = -1.0 if side == 0 else 1.0
                z = i if side == 0 else j
                if m == 0:
                    row = net.row_water[z]
                elif m == 1:
                    row = net.row_co2[z]
                elif m == 2:
                    row = net.row_o2[z]
                else:
                    row = net.row_heat[z]
                f[row] += sg * flux
                if m == 0:
                    f[net.row_heat[z]] += sg * flux * heat
                if want:
                    for end in range(2):
                        nz = ni if end == 0 else nj
                        node = i if end == 0 else j
                        rho = rho_i if end == 0 else rho_j
                        own = ai if end == 0 else aj
                        vp = fq * q_p if end == 0 else -fq * q_p
                        vt = rho * w[RHO_T, nz] + by_t + (own if m == 3 else 0.0)
                        vv = rho * w[RHO_V, nz] + by_v + (own if m == 0 else 0.0)
                        vc = rho * w[RHO_C, nz] + (own if m == 1 else 0.0)
                        vo = rho * w[RHO_O, nz] + (own if m == 2 else 0.0)
                        k = put_full(
                            record, rows, cols, net, a, k, row, node, nz, w, sg * vt, sg * vv, sg * vc, sg * vo, sg * vp
                        )
                        if m == 0:
                            k = put_full(
                                record,
                                rows,
                                cols,
                                net,
                                a,
                                k,
                                net.row_heat[z],
                                node,
                                nz,
                                w,
                                sg * (vt * heat + 0.5 * flux * cv),
                                sg * vv * heat,
                                sg * vc * heat,
                                sg * vo * heat,
                                sg * vp * heat,
                            )
        # the flow raises the pressure behind it; counted in moles, so that warm air leaving balances cold coming in
        mole = T_REF / tm
        for side in range(2):
            z = i if side == 0 else j
            if z == net.room:
                continue
            row = net.flow[z]
            sg = -1.0 if side == 0 else 1.0
            f[row] += sg * q * mole
            if want:
                for end in range(2):
                    nz = ni if end == 0 else nj
                    node = i if end == 0 else j
                    s_p = (sg if end == 0 else -sg) * q_p * mole
                    rho = -s_p * grav * height
                    k = put_full(
                        record,
                        rows,
                        cols,
                        net,
                        a,
                        k,
                        row,
                        node,
                        nz,
                        w,
                        rho * w[RHO_T, nz] - sg * q * 0.5 * mole / tm,
                        rho * w[RHO_V, nz],
                        rho * w[RHO_C, nz],
                        rho * w[RHO_O, nz],
                        s_p,
                    )
    return k


@jit
def put_full(
    record: bool,
    rows: Ints,
    cols: Ints,
    net: Net,
    a: Floats,
    k: int,
    row: int,
    z: int,
    n: int,
    w: Floats,
    vt: float,
    vv: float,
    vc: float,
    vo: float,
    vp: float,
) -> int:
    """Slopes along all five values of zone z (work column n); the room has temperature and vapour only."""
    t = vt + vv * w[XV_T, n] + vc * w[XC_T, n] + vo * w[XO_T, n]
    mass = t * w[ZT_M, n] + vv * w[XV_M, n]
    if z == net.room:
        mass -= vc * net.room_co2 + vo * net.room_o2
    k = put(record, rows, cols, net, a, k, row, net.heat[z], t * w[ZT_H, n])
    k = put(record, rows, cols, net, a, k, row, net.water[z], mass)
    k = put(record, rows, cols, net, a, k, row, net.co2[z], vc * w[XC_C, n])
    k = put(record, rows, cols, net, a, k, row, net.o2[z], vo * w[XO_O, n])
    return put(record, rows, cols, net, a, k, row, net.flow[z], vp)


@within
def surfaces(
    net: Net,
    y: Floats,
    f: Floats,
    want: bool,
    a: Floats,
    record: bool,
    rows: Ints,
    cols: Ints,
    temp: Floats,
    th: Floats,
    tm: Floats,
    w: Floats,
    k: int,
    R: float,
    mv: float,
    cv: float,
    lat: float,
    p: float,
) -> int:
    for n in range(net.surface.shape[0]):
        z, j, account = net.surface[n, 0], net.surface[n, 1], net.surface[n, 2]
        v = net.surface_v[n]
        area, h4, warm4, cool4 = v[0], v[1], v[2], v[3]
        d = temp[j] - temp[z]
        # film coefficient: fourth-power blend of conduction and natural convection (which goes as d^1/4)
        slope4 = warm4 if d > 0.0 else -cool4
        b = h4 + slope4 * d
        h = math.sqrt(math.sqrt(b))
        h_d = 0.25 * h / b * slope4
        q = area * h * d
        q_d = area * (h + h_d * d)
        f[net.row_heat[j]] -= q
        f[net.row_heat[z]] += q
        if want:
            for side in range(2):
                row = net.row_heat[j] if side == 0 else net.row_heat[z]
                sg = -1.0 if side == 0 else 1.0
                k = put_heat(record, rows, cols, net, a, k, row, j, th[j], tm[j], sg * q_d)
                k = put(record, rows, cols, net, a, k, row, net.heat[z], -sg * q_d * w[ZT_H, z])
                k = put(record, rows, cols, net, a, k, row, net.water[z], -sg * q_d * w[ZT_M, z])
        if net.water[j] < 0:
            continue
        lewis, activity, scale, wick = v[4], v[5], v[6], v[7]
        wet_area = v[8]
        sat, sat_t = saturation(net.table_start, net.table_step, net.table, temp[j])
        over = activity * sat - w[XV, z] * p
        kb = wet_area * lewis * mv / (R * T_REF)
        flux = kb * h * over
        flux_h = kb * over
        flux_e = kb * h
        flux_m = 0.0
        if flux > 0.0:
            m = y[net.water[j]]
            if m > 0.0:
                share = m / (m + scale)
                flux_m = flux * scale / ((m + scale) * (m + scale))
                flux *= share
                flux_h *= share
                flux_e *= share
                if wick > 0.0:
                    r = 1.0 + (flux / wick) ** 2
                    cap = 1.0 / math.sqrt(r)
                    by = cap / r
                    flux *= cap
                    flux_h *= by
                    flux_e *= by
                    flux_m *= by
            else:
                flux, flux_h, flux_e, flux_m = 0.0, 0.0, 0.0, (flux / scale if m > -1e-12 else 0.0)
        heat = lat + cv * (temp[j] - T_REF)
        add(f, net.row_water[j], -flux)
        f[net.row_water[z]] += flux
        f[net.row_heat[j]] -= flux * heat
        f[net.row_heat[z]] += flux * heat
        add(f, account, flux)
        if want:
            by_tj = flux_h * h_d + flux_e * activity * sat_t
            by_tz = -flux_h * h_d
            by_x = -flux_e * p
            for part in range(5):
                if part == 0:
                    row, sg, hh, extra = net.row_water[j], -1.0, 1.0, 0.0
                elif part == 1:
                    row, sg, hh, extra = net.row_water[z], 1.0, 1.0, 0.0
                elif part == 2:
                    row, sg, hh, extra = net.row_heat[j], -1.0, heat, flux * cv
                elif part == 3:
                    row, sg, hh, extra = net.row_heat[z], 1.0, heat, flux * cv
                else:
                    row, sg, hh, extra = account, 1.0, 1.0, 0.0
                if row < 0:
                    continue
                own = by_tj * hh + extra
                k = put(record, rows, cols, net, a, k, row, net.heat[j], sg * own * th[j])
                k = put(record, rows, cols, net, a, k, row, net.water[j], sg * (own * tm[j] + flux_m * hh))
                k = put_zone2(record, rows, cols, net, a, k, row, z, z, w, sg * by_tz * hh, sg * by_x * hh)
    return k


@within
def gardens(
    net: Net,
    y: Floats,
    f: Floats,
    want: bool,
    a: Floats,
    record: bool,
    rows: Ints,
    cols: Ints,
    temp: Floats,
    th: Floats,
    tm: Floats,
    w: Floats,
    k: int,
    mv: float,
) -> int:
    """Respiration (CO2, oxygen, heat, water) and the water that leaves bring in."""
    for n in range(net.garden.shape[0]):
        j, z = net.garden[n, 0], net.garden[n, 1]
        v = net.garden_v[n]
        rate, lnq, t_ref, half, quotient, heat, full, supply, keen = (
            v[0],
            v[1],
            v[2],
            v[3],
            v[4],
            v[5],
            v[6],
            v[7],
            v[8],
        )
        fail, width = v[9], v[10]
        xo = max(w[XO, z], 0.0)
        norm = (net.room_o2 + half) / net.room_o2
        # respiration rises with warmth until the fungus fails
        lost = math.exp(min((temp[j] - fail) / width, 300.0))
        alive = 1.0 / (1.0 + lost)
        r = rate * math.exp(min(lnq * (temp[j] - t_ref), 50.0)) * norm * alive
        oxygen = xo / (xo + half)
        co2 = r * oxygen
        by_t = co2 * (lnq - lost * alive / width)
        by_o = r * half / ((xo + half) * (xo + half))
        for part in range(8):
            if part == 0:
                row, s = net.row_co2[z], 1.0
            elif part == 1:
                row, s = net.row_o2[z], -1.0 / quotient
            elif part == 2:
                row, s = net.row_heat[j], heat
            elif part == 3:
                row, s = net.row_water[j], mv
            elif part == 4:
                row, s = net.garden[n, 2], heat
            elif part == 5:
                row, s = net.garden[n, 3], mv
            elif part == 6:
                row, s = net.garden[n, 4], 1.0
            else:
                row, s = net.garden[n, 5], -1.0 / quotient
            f[row] += s * co2
            if want:
                k = put_heat(record, rows, cols, net, a, k, row, j, th[j], tm[j], s * by_t)
                k = put(record, rows, cols, net, a, k, row, net.heat[z], s * by_o * w[XO_T, z] * w[ZT_H, z])
                k = put(record, rows, cols, net, a, k, row, net.water[z], s * by_o * w[XO_T, z] * w[ZT_M, z])
                k = put(record, rows, cols, net, a, k, row, net.o2[z], s * by_o * w[XO_O, z])
        lack = 1.0 - y[net.water[j]] / full
        given, by_m = 0.0, 0.0
        if lack > 0.0:
            given = supply * lack / (lack + keen)
            by_m = -supply * keen / ((lack + keen) * (lack + keen)) / full
        for r2 in (net.row_water[j], net.garden[n, 3], net.garden[n, 6]):
            f[r2] += given
            if want:
                k = put(record, rows, cols, net, a, k, r2, net.water[j], by_m)
    return k
