"""The network's rates in plain NumPy, written to be fast in NumPy: the baseline of the year benchmark.

Also an independent second writing of the kernel's equations: tests/network compares the two.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from nestwright.network.arrays import T_REF, Floats, Net


def numpy_rates(net: Net) -> Callable[[float, Floats, Floats, Floats], Floats]:
    """A function rates(t, y, drive, on) that returns dy/dt, shape (size,)."""
    R, mv, mr, mc, mo, cv, cw, lat, air, grav, fog_rate, drip_rate = net.gas
    p = net.pressure
    nodes = net.room
    wet = net.water[:nodes] >= 0
    water_at = np.where(wet, net.water[:nodes], 0)
    nz = net.zones

    def zcol(index: np.ndarray) -> np.ndarray:
        return np.where(index == net.room, nz, index)

    li, lj = net.link[:, 0], net.link[:, 1]
    oi, oj, okind = net.opening.T if len(net.opening) else np.zeros((3, 0), int)
    ozi, ozj = zcol(oi), zcol(oj)
    ov = net.opening_v.T
    fi, fj = net.flow[oi], net.flow[oj]
    sz, sn, sacc = net.surface.T if len(net.surface) else np.zeros((3, 0), int)
    sv = net.surface_v.T
    s_wet = net.water[sn] >= 0
    wz, wn, wacc = sz[s_wet], sn[s_wet], sacc[s_wet]
    wv = sv[:, s_wet]
    pi_, pj = net.permeation.T if len(net.permeation) else np.zeros((2, 0), int)
    fz, fn = net.fog.T if len(net.fog) else np.zeros((2, 0), int)
    vi, vto, vrest, vdw, vde, vdrip = net.overflow.T if len(net.overflow) else np.zeros((6, 0), int)
    to_w = np.where(vto >= 0, net.row_water[vto], vdw)
    to_h = np.where(vto >= 0, net.row_heat[vto], vde)
    rest_w = np.where(vrest >= 0, net.row_water[vrest], vdw)
    rest_h = np.where(vrest >= 0, net.row_heat[vrest], vde)
    dripping = vdrip >= 0
    accounted = wacc >= 0
    gn, gz = net.garden[:, 0], net.garden[:, 1]
    gv = net.garden_v.T
    rows = np.concatenate(
        [
            net.row_heat[li], net.row_heat[lj],
            net.row_heat[pi_], net.row_heat[pj], net.row_water[pi_], net.row_water[pj],
            net.row_water[oi], net.row_water[oj], net.row_co2[oi], net.row_co2[oj], net.row_o2[oi], net.row_o2[oj],
            net.row_heat[oi], net.row_heat[oj], fi[fi >= 0], fj[fj >= 0],
            net.row_heat[sn], net.row_heat[sz],
            net.row_water[wn], net.row_water[wz], net.row_heat[wn], net.row_heat[wz], wacc[accounted],
            net.row_water[fz], net.row_heat[fz], net.row_water[fn], net.row_heat[fn],
            net.row_water[vi], net.row_heat[vi], to_w, to_h, rest_w, rest_h, vdrip[dripping],
            net.row_co2[gz], net.row_o2[gz], net.row_heat[gn], net.row_water[gn],
            net.garden[:, 2], net.garden[:, 3], net.garden[:, 4], net.garden[:, 5],
            net.row_water[gn], net.garden[:, 3], net.garden[:, 6],
            net.row_heat[net.heater[:, 0]], net.heater[:, 3], net.heater[:, 4],
        ]
    )  # fmt: skip
    inside_i, inside_j = fi >= 0, fj >= 0
    count, table, step, start = net.table.shape[0] - 1, net.table, net.table_step, net.table_start

    def saturation(t: Floats) -> Floats:
        u = np.clip((t - start) / step, 0.0, count - 1e-9)
        i = u.astype(int)
        s = u - i
        a, b = table[i, 0], table[i + 1, 0]
        c, d = table[i, 1] * step, table[i + 1, 1] * step
        return a + s * (c + s * (3 * (b - a) - 2 * c - d + s * (2 * (a - b) + c + d)))

    def bern(u: Floats) -> Floats:
        small = np.abs(u) < 1e-2
        safe = np.clip(np.where(small, 1.0, u), -500, 500)
        return np.where(small, 1 - u / 2 + u * u / 12 - u**4 / 720, safe / np.expm1(safe))

    def rates(t: float, y: Floats, drive: Floats, on: Floats) -> Floats:
        m = np.where(wet, y[water_at], 0.0)
        c = np.maximum(net.capacity[:nodes] + net.water_heat[:nodes] * m, 0.5 * net.capacity[:nodes])
        temp = np.empty(nodes + 1)
        temp[:nodes] = T_REF + (net.capacity[:nodes] * y[net.heat[:nodes]] - net.latent[:nodes] * m) / c
        temp[nodes] = T_REF + y[net.heat[net.room]]
        tz = np.append(temp[:nz], temp[nodes])
        kv = R / (p * net.volume[:nz]) * tz[:nz]
        room_x = y[net.water[net.room]]
        xv = np.append(kv * m[:nz] / mv, room_x)
        xc = np.append(kv * y[net.co2[:nz]], net.room_co2 * (1 - room_x))
        xo = np.append(kv * y[net.o2[:nz]], net.room_o2 * (1 - room_x))
        rho = p / (R * tz) * (mr + (mv - mr) * xv + (mc - mr) * xc + (mo - mr) * xo)
        q_link = net.link_g * (temp[li] - temp[lj])
        zpi, zpj = zcol(pi_), zcol(pj)
        j_perm = net.permeation_g * p * (xv[zpi] - xv[zpj])
        h_perm = j_perm * (lat + cv * (0.5 * (temp[pi_] + temp[pj]) - T_REF))
        # openings
        drho = rho[ozi] - rho[ozj]
        dp = np.where(inside_i, y[fi], 0.0) - np.where(inside_j, y[fj], 0.0) - grav * ov[0] * drho
        q = 2 * dp / (ov[1] + np.sqrt(ov[1] ** 2 + 4 * ov[2] * np.abs(dp)))
        over = np.maximum(np.where(okind == 1, np.abs(drho), drho) - ov[5], 0.0)
        x = np.where(okind > 0, ov[3] * ov[4] * over / (ov[3] + ov[4] * np.sqrt(over)), 0.0)
        tm = 0.5 * (tz[ozi] + tz[ozj])
        conc = p / (R * tm)
        rel = (tm - T_REF) / T_REF
        moles = q * T_REF / tm
        e = ov[10:14]
        gd = ov[6:10] * (1 + e * rel + 0.5 * e * (e - 1) * rel * rel)
        gd[0] /= 1 - 0.5 * (xv[ozi] + xv[ozj])
        g = np.sqrt(gd * gd + x * x)
        b = bern(q / g)
        values = np.stack([xv, xc, xo, tz - T_REF])
        flux = conc * ((g * b + q) * values[:, ozi] - g * b * values[:, ozj])
        j_v = flux[0] * mv
        h_o = flux[3] * air + j_v * (lat + cv * (tm - T_REF))
        # surfaces
        d = temp[sn] - temp[sz]
        h = np.sqrt(np.sqrt(sv[1] + np.where(d > 0, sv[2] * d, -sv[3] * d)))
        q_s = sv[0] * h * d
        excess = wv[5] * saturation(temp[wn]) - xv[wz] * p
        ev = wv[8] * wv[4] * mv / (R * T_REF) * h[s_wet] * excess
        mw = np.maximum(y[net.water[wn]], 0.0)
        up = ev * mw / (mw + wv[6])
        wick = wv[7]
        up = np.where(wick > 0, up / np.sqrt(1 + (up / np.where(wick > 0, wick, 1.0)) ** 2), up)
        ev = np.where(ev > 0, up, ev)
        h_e = ev * (lat + cv * (temp[wn] - T_REF))
        # fog, overflow
        fog = fog_rate * net.volume[fz] * mv / (R * T_REF) * np.maximum(xv[fz] * p - saturation(temp[fz]), 0.0)
        h_f = fog * cw * (temp[fz] - T_REF)
        run = drip_rate * np.maximum(y[net.water[vi]] - net.overflow_v[:, 0], 0.0)
        h_r = run * cw * (temp[vi] - T_REF)
        share = net.overflow_v[:, 1]
        # gardens
        xg = np.maximum(xo[gz], 0.0)
        alive = 1 / (1 + np.exp(np.minimum((temp[gn] - gv[9]) / gv[10], 300.0)))
        co2 = (
            alive
            * gv[0]
            * np.exp(np.minimum(gv[1] * (temp[gn] - gv[2]), 50.0))
            * (net.room_o2 + gv[3])
            / net.room_o2
            * xg
            / (xg + gv[3])
        )
        lack = np.maximum(1 - y[net.water[gn]] / gv[6], 0.0)
        given = gv[7] * lack / (lack + gv[8])
        # heaters
        kind = net.heater[:, 2]
        mean = (kind == 1) | ((kind == 2) & (on < 0))
        band = np.clip((net.heater_v[:, 1] - temp[net.heater[:, 1]]) / net.heater_v[:, 2], 0, 1)
        watts = net.heater_v[:, 0] * np.where(mean, band, on)
        weights = np.concatenate(
            [
                -q_link, q_link, -h_perm, h_perm, -j_perm, j_perm,
                -j_v, j_v, -flux[1], flux[1], -flux[2], flux[2], -h_o, h_o, -moles[inside_i], moles[inside_j],
                -q_s, q_s, -ev, ev, -h_e, h_e, ev[accounted],
                -fog, -h_f, fog, h_f,
                -run, -h_r, share * run, share * h_r, (1 - share) * run, (1 - share) * h_r, (share * run)[dripping],
                co2, -co2 / gv[4], co2 * gv[5], co2 * mv, co2 * gv[5], co2 * mv, co2, -co2 / gv[4],
                given, given, given, watts, watts, watts,
            ]
        )  # fmt: skip
        f = np.bincount(rows, weights, net.size) * net.row_scale
        f[net.heat[net.room]] = drive[0]
        f[net.water[net.room]] = drive[1]
        return f

    return rates
