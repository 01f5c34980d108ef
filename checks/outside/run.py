"""Compares the built program, live, with general-purpose reference libraries.

Usage: run.py PATH_TO_ARCWRIGHT

Nothing here is frozen from the program's own output: each check asks the program for its inputs
and its answer, works the answer out again with an independent library, prints both and fails
when they are apart by more than the stated amount.

- flight: scipy.integrate.solve_ivp (DOP853) on the equations of docs/theory/flight.md
- air: fluids (U.S. Standard Atmosphere 1976)
- templates and prints: ezdxf, shapely, pypdf, pdftoppm (drawings.py)
- spin-up: scipy.integrate.solve_ivp on the motor and battery lines of machine data as written
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import drawings
import numpy as np
from fluids.atmosphere import ATMOSPHERE_1976
from scipy.integrate import solve_ivp

PROGRAM = str(Path(sys.argv[1]).resolve())
G = 9.80665
passed = failed = 0


def ask(*arguments, cwd=None):
    done = subprocess.run([PROGRAM, *arguments, "--json"], capture_output=True, text=True, cwd=cwd, timeout=60)
    if done.returncode not in (0, 1):
        raise SystemExit(f"arcwright {' '.join(arguments)} ended with {done.returncode}:\n{done.stderr}")
    return json.loads(done.stdout)


def compare(name, ours, theirs, allowed):
    global passed, failed
    off = abs(ours - theirs)
    good = off <= allowed
    passed, failed = passed + good, failed + (not good)
    print(f"{'ok  ' if good else 'FAIL'} {name}: {ours:.9g} against {theirs:.9g}, apart {off:.2g}, allowed {allowed:.2g}")


def flight(demo, spot):
    """Crossing of the opening from the exit: drag, saturating lift, aerodynamic spin decay, carried air."""
    t = ask("throw", "--demo", demo, "--spot", spot)
    air, piece, start = t["air"], t["piece"], t["start"]
    drag, lift, decay = piece["drag"], piece["lift"], piece["spin_decay"]
    assert (lift["law"], decay["law"]) == ("saturating", "aero"), piece

    def drag_coefficient(speed):
        if drag["law"] == "constant":
            return drag["coeff"] * drag["scale"]
        assert drag["law"] == "clift-gauvin", drag
        # Clift and Gauvin 1970, smooth sphere.
        re = rho * speed * 2 * r / air["viscosity_pas"]
        return drag["scale"] * (24 / re * (1 + 0.15 * re**0.687) + 0.42 / (1 + 42500 * re**-1.16))

    r = piece["diameter_m"] / 2
    area, volume = math.pi * r * r, 4 / 3 * math.pi * r**3
    rho, m = air["density_kgpm3"], piece["mass_kg"]
    carried = piece["added_mass_coeff"] * rho * volume
    m_eff = m + carried
    weight = G * m / m_eff
    wind = np.array(air["wind_mps"])
    n_ct = decay["torque_coeff"] * rho * area * r / (2 * piece["inertia_coeff"] * m * r)

    def rhs(_, y):
        v, w = y[3:6] - wind, y[6:9]
        q = np.linalg.norm(v)
        wxv = np.cross(w, v)
        s = r * np.linalg.norm(wxv) / (q * q)
        a = np.array([0, 0, -weight]) - rho * area / (2 * m_eff) * drag_coefficient(q) * q * v
        if np.linalg.norm(wxv) > 0:
            cl = lift["scale"] * s / (lift["a"] + lift["b"] * s)
            a = a + rho * area / (2 * m_eff) * cl * q * q * wxv / np.linalg.norm(wxv)
        return np.concatenate([y[3:6], a, -n_ct * q * w])

    y0 = np.array(start["position_m"] + start["velocity_mps"] + start["spin_radps"])
    crossing = t["arrival"]["crossing"]
    sol = solve_ivp(rhs, (0, crossing["time_s"]), y0, method="DOP853", rtol=1e-12, atol=1e-13)
    for i, axis in enumerate("xyz"):
        compare(f"flight {demo}/{spot} {axis} (m, scipy DOP853)", crossing["position_m"][i], sol.y[i, -1], 1e-6)
    compare(f"flight {demo}/{spot} v_z (m/s)", crossing["velocity_mps"][2], sol.y[5, -1], 1e-6)


def air():
    """Dry air at standard temperature of an altitude: density and viscosity."""
    for altitude in (0.0, 800.0, 2000.0):
        want = ATMOSPHERE_1976(altitude)
        demo = Path(__file__).resolve().parents[2].joinpath("examples", "lantern", "arcwright.toml").read_text()
        head = demo.split("[air]")[0]
        text = head + f'[air]\ntemperature = "{want.T:.6f} K"\naltitude = "{altitude} m"\nhumidity = "0 %"\n'
        with tempfile.TemporaryDirectory() as folder:
            Path(folder, "arcwright.toml").write_text(text)
            t = ask("throw", folder, "--speed", "3000 rpm")
        # The humid-air formula treats dry air as a real gas with CO2: 0.05 % from the ideal gas of 1976.
        compare(f"air density at {altitude:.0f} m (kg/m3, fluids)", t["air"]["density_kgpm3"], want.rho, 6e-4 * want.rho)
        compare(f"air viscosity at {altitude:.0f} m (Pa s)", t["air"]["viscosity_pas"], want.mu, 2e-4 * want.mu)


def spin_up():
    """Time to the ready band at full duty, motor and battery as written in the project file."""
    import tomllib

    text = Path(__file__).resolve().parents[2].joinpath("examples", "lantern", "arcwright.toml").read_text()
    # No current limit and no delay, so that the wheel is driven at full duty until it is near the band.
    text = text.replace('current_limit = "28 A"', "").replace('other_current = "6 A"', 'other_current = "0 A"')
    text = text.replace('kp = "0.06 V s/rad"', 'kp = "5 V s/rad"').replace('delay = "10 ms"', 'delay = "0 ms"')
    text = text.replace('period = "20 ms"', 'period = "1 ms"').replace('ki = "0.01 V/rad"', 'ki = "0 V/rad"')
    data = tomllib.loads(text)

    def value(x):
        return float(x.split()[0])

    m, b = data["motor"], data["battery"]
    v, i0, ist = value(m["nominal"]), value(m["free_current"]), value(m["stall_current"])
    w0 = value(m["free_speed"]) * math.pi / 30
    resistance, ke = v / ist, (v - i0 * v / ist) / w0
    kt = value(m["stall_torque"]) / (ist - i0)
    eta = value(m["efficiency"]) / 100
    inertia = value(m["rotor_inertia"]) * 1e-4
    for part in data["wheel"]["part"]:
        mass, radius = value(part["mass"]) * 1e-3, value(part["diameter"]) * 0.5e-3
        inertia += mass * radius**2 * (1.0 if part["kind"] == "ring" else 0.5)
    voc, rb = value(b["open_voltage"]), value(b["resistance"]) * 1e-3

    def rate(_, w):
        current = (voc - ke * w[0]) / (resistance + rb)
        return [eta * kt * (current - i0) / inertia]

    target = 400.0
    ready = 0.99 * target
    hit = lambda _, w: w[0] - ready
    hit.terminal = True
    sol = solve_ivp(rate, (0, 20), [0.0], rtol=1e-11, atol=1e-12, events=hit)
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "arcwright.toml").write_text(text)
        t = ask("volley", folder, "--speed", f"{target} rad/s", "--count", "1")
    # One loop period of 1 ms at rest before the first duty.
    compare("spin-up to 99 % of 400 rad/s (s, scipy)", t["ready_s"], sol.t_events[0][0], 2.5e-3)
    top = (voc - (resistance + rb) * i0) / ke
    compare("top wheel speed (rad/s, closed form)", t["top_speed_radps"], top, 1e-6 * top)


def order():
    """Colours of a load: the multivariate hypergeometric law of scipy against every case counted."""
    from itertools import product

    from scipy.stats import multivariate_hypergeom

    found = ask("order", "--demo", "lantern")
    stock, load = found["stock"], found["load"]
    need = [found["wanted"].count(c) for c in found["colours"]]
    held = sum(
        multivariate_hypergeom.pmf(counts, stock, load)
        for counts in product(range(load + 1), repeat=len(stock))
        if sum(counts) == load and all(c >= n for c, n in zip(counts, need))
    )
    sure = {s["sorter"]: s["whole_with_a_sure_sensor_frac"] for s in found["sorters"]}
    compare("carousel: a load holds the colours of the order (scipy)", sure["carousel"], held, 1e-9)
    # One order among all orders of such a load.
    plain = multivariate_hypergeom.pmf(need, stock, load)
    for i in range(2, load + 1):
        plain /= i
    for n in need:
        for i in range(2, n + 1):
            plain *= i
    compare("no sorter: the very order (scipy)", sure["none"], plain, 1e-9)


def main():
    for demo, spot in (("lantern", "far"), ("lantern", "near"), ("bramble", "well"), ("pebble", "fence")):
        flight(demo, spot)
    air()
    spin_up()
    order()
    drawings.check(PROGRAM, compare)
    print(f"\n{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
