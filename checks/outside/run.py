"""Compares the built program, live, with general-purpose reference libraries.

Usage: run.py PATH_TO_ARCWRIGHT

Nothing here is frozen from the program's own output: each check asks the program for its inputs
and its answer, works the answer out again with an independent library, prints both and fails
when they are apart by more than the stated amount.

- flight: scipy.integrate.solve_ivp (DOP853) on the equations of docs/theory/flight.md
- air: fluids (U.S. Standard Atmosphere 1976), and CoolProp-style ideal mixture bounds are not used
- spin-up: scipy.integrate.solve_ivp on motor and battery lines
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from fluids.atmosphere import ATMOSPHERE_1976
from scipy.integrate import solve_ivp

PROGRAM = str(Path(sys.argv[1]).resolve())
G = 9.80665
passed = failed = 0


def ask(*arguments, cwd=None):
    done = subprocess.run([PROGRAM, *arguments, "--json"], capture_output=True, text=True, cwd=cwd)
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
    text = Path(__file__).resolve().parents[2].joinpath("examples", demo, "arcwright.toml").read_text()
    law = flight_law(text)
    r = piece["diameter_m"] / 2
    area, volume = math.pi * r * r, 4 / 3 * math.pi * r**3
    rho, m = air["density_kgpm3"], piece["mass_kg"]
    carried = piece["added_mass_coeff"] * rho * volume
    m_eff = m + carried
    weight = G * m / m_eff
    wind = np.array(air["wind_mps"])
    n_ct = law["ct"] * rho * area * r / (2 * piece["inertia_coeff"] * m * r)

    def rhs(_, y):
        v, w = y[3:6] - wind, y[6:9]
        q = np.linalg.norm(v)
        wxv = np.cross(w, v)
        s = r * np.linalg.norm(wxv) / (q * q)
        a = np.array([0, 0, -weight]) - rho * area / (2 * m_eff) * law["cd"] * q * v
        if np.linalg.norm(wxv) > 0:
            cl = law["cl"] * s / (0.4 + 2.32 * s)
            a = a + rho * area / (2 * m_eff) * cl * q * q * wxv / np.linalg.norm(wxv)
        return np.concatenate([y[3:6], a, -n_ct * q * w])

    y0 = np.array(start["position_m"] + start["velocity_mps"] + start["spin_radps"])
    crossing = t["arrival"]["crossing"]
    sol = solve_ivp(rhs, (0, crossing["time_s"]), y0, method="DOP853", rtol=1e-12, atol=1e-13)
    for i, axis in enumerate("xyz"):
        compare(f"flight {demo}/{spot} {axis} (m, scipy DOP853)", crossing["position_m"][i], sol.y[i, -1], 1e-6)
    compare(f"flight {demo}/{spot} v_z (m/s)", crossing["velocity_mps"][2], sol.y[5, -1], 1e-6)


def flight_law(text):
    """Drag, lift and decay numbers as the project file writes them."""
    import tomllib

    piece = tomllib.loads(text)["piece"]

    def value(key, default):
        x = piece.get(key, default)
        return float(x["value"] if isinstance(x, dict) else x)

    return {"cd": value("drag", math.nan), "cl": value("lift", math.nan), "ct": value("spin_decay", 0.02)}


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


def main():
    for demo, spot in (("lantern", "far"), ("lantern", "near"), ("bramble", "far"), ("pebble", "near")):
        flight(demo, spot)
    air()
    print(f"\n{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
