"""Times the batch of flights against the same flights by general-purpose Python libraries.

Usage: rivals.py PATH_TO_RATE [--short]

PATH_TO_RATE is the program built by `cargo build --release -p arcwright-bench --bin rate`.

The reference problem of docs/performance.md in each library as one would write it first: the
classical method of order four with a fixed step and the cubic Hermite interpolant at the crossing
(numba, jax, numpy), and scipy's adaptive solvers with an event. Each runs with the coarsest step or
tolerance that keeps every reference crossing of checks/flight_batch.json to its 1e-6 m; a rival
that does not is reported and not timed. The kernel's crossings of the timed throws are compared
with numba's at a quarter of its step: two programs that share no code. Exits with 1 when a kernel
or a rival misses the accuracy. No time is asserted.

Everything is on one core: rounds of the kernel and of the rivals take turns, each counted in
processor time of its own process, and the medians are compared.
"""

import os

# Before the libraries start their threads.
os.environ |= {
    "XLA_FLAGS": "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1",
    "JAX_PLATFORMS": "cpu",
    "NUMBA_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
if hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})

import argparse
import json
import math
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import jax
import jax.numpy as jnp
import numba
import numpy as np
from scipy.integrate import solve_ivp

jax.config.update("jax_enable_x64", True)

REFERENCE = json.loads(Path(__file__).resolve().parents[1].joinpath("flight_batch.json").read_text())
TOLERANCE_M = REFERENCE["tolerance_m"]
G, RHO, MU, TAU = (REFERENCE["constants"][k] for k in ("g", "rho", "mu", "tau"))
# As `rate` names them; with +alike the throws are taken for a cloud about one, learning included.
KERNELS = ["exact", "fast", "exact+alike", "fast+alike"]
# Throws of a round: set N has a million; the sweep needs small steps of the rivals.
COUNTS = {"N": 1_000_000, "W": 1 << 15}
STEPS_S = [0.15 * 0.9**i for i in range(50)]
TOLERANCES = [1e-4 * 0.4**i for i in range(24)]


def acceleration(lib, cg, v, fade, spin, k, radius, rim, scale):
    """Works on floats and on arrays alike; `lib` has sqrt. Components in, components out."""
    q = lib.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])
    if cg:
        re = RHO * 2.0 * radius / MU * q
        cd = scale * (24.0 / re * (1.0 + 0.15 * re**0.687) + 0.42 / (1.0 + 42500.0 * re**-1.16))
    else:
        cd = scale * 0.5
    drag = k * cd * q
    lift = k * q * fade * radius / (0.4 * q + 2.32 * rim * fade)
    return (
        lift * (spin[1] * v[2] - spin[2] * v[1]) - drag * v[0],
        lift * (spin[2] * v[0] - spin[0] * v[2]) - drag * v[1],
        lift * (spin[0] * v[1] - spin[1] * v[0]) - drag * v[2] - G,
    )


def add(a, s, b):
    return (a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2])


def four(a, b, c, d):
    return tuple(w + 2.0 * x + 2.0 * y + z for w, x, y, z in zip(a, b, c, d))


def step(lib, cg, h, fades, r, v, *ball):
    """One step of the classical method of order four."""
    k1 = acceleration(lib, cg, v, fades[0], *ball)
    v2 = add(v, 0.5 * h, k1)
    k2 = acceleration(lib, cg, v2, fades[1], *ball)
    v3 = add(v, 0.5 * h, k2)
    k3 = acceleration(lib, cg, v3, fades[1], *ball)
    v4 = add(v, h, k3)
    k4 = acceleration(lib, cg, v4, fades[2], *ball)
    return add(r, h / 6.0, four(v, v2, v3, v4)), add(v, h / 6.0, four(k1, k2, k3, k4))


def hermite(r0, v0, r1, v1, h, plane_z):
    """Place on the cubic through both ends of a step where it meets the plane."""

    def cubic(i):
        rise, d0, d1 = r1[i] - r0[i], h * v0[i], h * v1[i]
        return d0, 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise

    z = cubic(2)
    s = (r0[2] - plane_z) / (r0[2] - r1[2])
    for _ in range(4):
        s = s - (r0[2] - plane_z + s * (z[0] + s * (z[1] + s * z[2]))) / (z[0] + s * (2.0 * z[1] + 3.0 * s * z[2]))
    out = []
    for i in range(3):
        c = cubic(i)
        out.append(r0[i] + s * (c[0] + s * (c[1] + s * c[2])))
    return tuple(out)


def columns(throws):
    """Columns of a set as the equations take them."""
    r, v, w = throws[0:3], throws[3:6], throws[6:9]
    radius = 0.5 * throws[9]
    k = RHO * math.pi * radius**2 / (2.0 * throws[10])
    return r, v, w, k, radius, radius * np.sqrt((w**2).sum(axis=0)), throws[11]


# numba: one throw after another, compiled.


@numba.njit(fastmath=True, error_model="numpy")
def numba_acceleration(cg, vx, vy, vz, fade, wx, wy, wz, k, radius, rim, scale):
    q = math.sqrt(vx * vx + vy * vy + vz * vz)
    if cg:
        re = RHO * 2.0 * radius / MU * q
        cd = scale * (24.0 / re * (1.0 + 0.15 * re**0.687) + 0.42 / (1.0 + 42500.0 * re**-1.16))
    else:
        cd = scale * 0.5
    drag = k * cd * q
    lift = k * q * fade * radius / (0.4 * q + 2.32 * rim * fade)
    return (
        lift * (wy * vz - wz * vy) - drag * vx,
        lift * (wz * vx - wx * vz) - drag * vy,
        lift * (wx * vy - wy * vx) - drag * vz - G,
    )


@numba.njit(fastmath=True, error_model="numpy")
def numba_cubic(a, da, b, db, s):
    return a + s * (da + s * (3.0 * (b - a) - 2.0 * da - db + s * (da + db - 2.0 * (b - a))))


@numba.njit(fastmath=True, error_model="numpy")
def numba_fly(cg, throws, plane_z, h, most, out):
    half = math.exp(-0.5 * h / TAU)
    for i in range(throws.shape[1]):
        x, y, z = throws[0, i], throws[1, i], throws[2, i]
        u, v, w = throws[3, i], throws[4, i], throws[5, i]
        wx, wy, wz = throws[6, i], throws[7, i], throws[8, i]
        radius, scale = 0.5 * throws[9, i], throws[11, i]
        k = RHO * math.pi * radius * radius / (2.0 * throws[10, i])
        rim = radius * math.sqrt(wx * wx + wy * wy + wz * wz)
        fade = 1.0
        out[0, i] = out[1, i] = out[2, i] = 1e9
        for _ in range(most):
            mid = fade * half
            end = mid * half
            a1, b1, c1 = numba_acceleration(cg, u, v, w, fade, wx, wy, wz, k, radius, rim, scale)
            u2, v2, w2 = u + 0.5 * h * a1, v + 0.5 * h * b1, w + 0.5 * h * c1
            a2, b2, c2 = numba_acceleration(cg, u2, v2, w2, mid, wx, wy, wz, k, radius, rim, scale)
            u3, v3, w3 = u + 0.5 * h * a2, v + 0.5 * h * b2, w + 0.5 * h * c2
            a3, b3, c3 = numba_acceleration(cg, u3, v3, w3, mid, wx, wy, wz, k, radius, rim, scale)
            u4, v4, w4 = u + h * a3, v + h * b3, w + h * c3
            a4, b4, c4 = numba_acceleration(cg, u4, v4, w4, end, wx, wy, wz, k, radius, rim, scale)
            xn = x + h / 6.0 * (u + 2.0 * (u2 + u3) + u4)
            yn = y + h / 6.0 * (v + 2.0 * (v2 + v3) + v4)
            zn = z + h / 6.0 * (w + 2.0 * (w2 + w3) + w4)
            un = u + h / 6.0 * (a1 + 2.0 * (a2 + a3) + a4)
            vn = v + h / 6.0 * (b1 + 2.0 * (b2 + b3) + b4)
            wn = w + h / 6.0 * (c1 + 2.0 * (c2 + c3) + c4)
            if z > plane_z and zn <= plane_z:
                d0, d1, rise = h * w, h * wn, zn - z
                q2, q3 = 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise
                s = (z - plane_z) / (z - zn)
                for _ in range(4):
                    s -= (z - plane_z + s * (d0 + s * (q2 + s * q3))) / (d0 + s * (2.0 * q2 + 3.0 * s * q3))
                out[0, i] = numba_cubic(x, h * u, xn, h * un, s)
                out[1, i] = numba_cubic(y, h * v, yn, h * vn, s)
                out[2, i] = numba_cubic(z, d0, zn, d1, s)
                break
            x, y, z, u, v, w, fade = xn, yn, zn, un, vn, wn, end


def fly_numba(cg, throws, plane_z, h, longest_s):
    out = np.empty((3, throws.shape[1]))
    numba_fly(cg, throws, plane_z, h, math.ceil(longest_s / h) + 1, out)
    return out


# jax: all throws of a chunk a step at a time, compiled.


def jax_chunk(cg, plane_z, h, throws, most):
    radius = 0.5 * throws[9]
    spin = (throws[6], throws[7], throws[8])
    k = RHO * math.pi * radius**2 / (2.0 * throws[10])
    rim = radius * jnp.sqrt(spin[0] ** 2 + spin[1] ** 2 + spin[2] ** 2)
    ball = (spin, k, radius, rim, throws[11])
    r, v = tuple(throws[0:3]), tuple(throws[3:6])
    half = math.exp(-0.5 * h / TAU)

    def body(_, state):
        fade, r, v, found, kept = state
        rn, vn = step(jnp, cg, h, (fade, fade * half, fade * half * half), r, v, *ball)
        crosses = (r[2] > plane_z) & (rn[2] <= plane_z) & ~found
        ends = (*r, *v, *rn, *vn)
        kept = tuple(jnp.where(crosses, new, old) for new, old in zip(ends, kept))
        return fade * half * half, rn, vn, found | crosses, kept

    found = jnp.zeros_like(radius, dtype=bool)
    state = (1.0, r, v, found, (*r, *v, *r, *v))
    kept = jax.lax.fori_loop(0, most, body, state)[4]
    return jnp.stack(hermite(kept[0:3], kept[3:6], kept[6:9], kept[9:12], h, plane_z))


jax_compiled = jax.jit(jax_chunk, static_argnums=(0, 1, 2, 4))


def fly_jax(cg, throws, plane_z, h, longest_s, chunk=4096):
    most = math.ceil(longest_s / h) + 1
    parts = [throws[:, i : i + chunk] for i in range(0, throws.shape[1], chunk)]
    return np.concatenate([np.asarray(jax_compiled(cg, plane_z, h, part, most)) for part in parts], axis=1)


# numpy: all throws of a chunk a step at a time.


def fly_numpy(cg, throws, plane_z, h, longest_s, chunk=1024):
    half = math.exp(-0.5 * h / TAU)
    out = np.full((3, throws.shape[1]), np.nan)
    for begin in range(0, throws.shape[1], chunk):
        r, v, *ball = columns(throws[:, begin : begin + chunk])
        kept = np.full((12, r.shape[1]), np.nan)
        fade = 1.0
        for _ in range(math.ceil(longest_s / h) + 1):
            rn, vn = step(np, cg, h, (fade, fade * half, fade * half * half), r, v, *ball)
            crosses = np.flatnonzero((r[2] > plane_z) & (rn[2] <= plane_z) & np.isnan(kept[0]))
            if crosses.size:
                for row, end in zip(kept, (*r, *v, *rn, *vn)):
                    row[crosses] = end[crosses]
            r, v, fade = rn, vn, fade * half * half
        out[:, begin : begin + chunk] = hermite(kept[0:3], kept[3:6], kept[6:9], kept[9:12], h, plane_z)
    return out


# scipy: an adaptive solver with an event, one throw after another.


def fly_scipy(cg, throws, plane_z, tolerance, longest_s, method="DOP853"):
    out = np.full((3, throws.shape[1]), np.nan)

    def event(_, y):
        return y[2] - plane_z

    event.terminal, event.direction = True, -1
    for i in range(throws.shape[1]):
        r, v, w, k, radius, rim, scale = (c.tolist() for c in columns(throws[:, i]))

        def rhs(t, y):
            return (*y[3:], *acceleration(math, cg, y[3:].tolist(), math.exp(-t / TAU), w, k, radius, rim, scale))

        sol = solve_ivp(rhs, (0, longest_s + 1.0), [*r, *v], method=method, rtol=tolerance, atol=tolerance, events=event)
        if sol.y_events[0].size:
            out[:, i] = sol.y_events[0][0][:3]
    return out


def worst(found, wanted):
    error = np.sqrt(((found - wanted) ** 2).sum(axis=0))
    return math.inf if np.isnan(error).any() else float(error.max())


class Kernel:
    """The kernel, in its own process, a round at a time."""

    def __init__(self, program):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, *words):
        print(*words, file=self.process.stdin, flush=True)
        answer = self.process.stdout.readline().strip()
        if not answer or answer.startswith("error"):
            raise SystemExit(f"{' '.join(map(str, words))}: {answer or 'no answer'}")
        return answer


def process_seconds(run):
    start = time.process_time()
    run()
    return time.process_time() - start


def fastest(options, run):
    """The option of the shortest of three runs."""
    for option in options:
        run(option)
    return min(options, key=lambda option: min(process_seconds(lambda: run(option)) for _ in range(3)))


def compare(kernel, kernels, name, law, count, rounds, few):
    """Verifies and times one set with one drag law. Returns whether all were accurate."""
    cg = law == "cg"
    group = REFERENCE["sets"][name]
    known = np.ascontiguousarray(np.array(group["inputs"]).T)
    wanted, plane_z = np.array(group[law]).T, group["plane_z"]
    longest_s = 1.02 * max(row[0] for row in group[law])
    print(f"\nset {name}, {law} drag")

    def coarsest(grid, fly):
        return next((x for x in grid if worst(fly(x), wanted[1:4]) <= TOLERANCE_M), None)

    h = coarsest(STEPS_S, lambda h: fly_numba(cg, known, plane_z, h, longest_s))
    tolerance = {m: coarsest(TOLERANCES, lambda t: fly_scipy(cg, known, plane_z, t, longest_s, m)) for m in ("RK45", "DOP853")}
    if h is None or None in tolerance.values():
        print("  no step or tolerance keeps the accuracy")
        return False

    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder, "numbers"))
        kernel.ask("throws", name, count, file)
        throws = np.fromfile(file).reshape(12, count)
        fine = fly_numba(cg, throws, plane_z, h / 4, 2.0 * longest_s)
        good = True
        for k in kernels:
            kernel.ask("arrive", name, count, law, k, file)
            error = worst(np.fromfile(file).reshape(count, 3).T, fine)
            good &= error <= TOLERANCE_M
            print(f"  {'ok  ' if error <= TOLERANCE_M else 'FAIL'} kernel, {k}: {error:.1e} m from numba at a quarter step, {count} throws")

    chunks = {
        fly: fastest(options, lambda chunk: fly(cg, throws, plane_z, h, longest_s, chunk))
        for fly, options in ((fly_jax, (1024, 4096, 16384)), (fly_numpy, (256, 512, 1024, 2048)))
    }
    rivals = {
        "numba, order four": (lambda x: fly_numba(cg, x, plane_z, h, longest_s), count),
        f"jax, order four, chunks of {chunks[fly_jax]}": (lambda x: fly_jax(cg, x, plane_z, h, longest_s, chunks[fly_jax]), count),
        f"numpy, order four, chunks of {chunks[fly_numpy]}": (lambda x: fly_numpy(cg, x, plane_z, h, longest_s, chunks[fly_numpy]), count),
    }
    for method, tol in tolerance.items():
        rivals[f"scipy {method}, tolerance {tol:.0e}"] = (lambda x, m=method, t=tol: fly_scipy(cg, x, plane_z, t, longest_s, m), few)
    seconds = {}
    for rival, (fly, _) in rivals.items():
        error = worst(fly(known), wanted[1:4])
        ok = error <= TOLERANCE_M
        good &= ok
        print(f"  {'ok  ' if ok else 'FAIL'} {rival}: {error:.1e} m from the reference, {known.shape[1]} throws")
        if ok:
            seconds[rival] = []
            fly(throws[:, : rivals[rival][1]])  # compiles
    print(f"  step of order four: {h:.4f} s")

    ours = {f"kernel, {k}": ("round", name, count, law, k) for k in kernels}
    ours["rust, order four"] = ("round", name, count, law, "plain", h)
    seconds = {k: [] for k in ours} | seconds
    for _ in range(rounds):
        for rival in seconds:
            # A round of the kernel right before each rival, so that both see the same machine.
            if rival in ours:
                seconds[rival].append(float(kernel.ask(*ours[rival])))
            else:
                for k in ours:
                    seconds[k].append(float(kernel.ask(*ours[k])))
                fly, n = rivals[rival]
                part = np.ascontiguousarray(throws[:, :n])
                seconds[rival].append(process_seconds(lambda: fly(part)) / n)
    medians = {rival: statistics.median(s) for rival, s in seconds.items()}
    print(f"  {'':44} {'per second':>12}" + "".join(f" {k + ' /':>13}" for k in kernels))
    for rival, median in medians.items():
        ratios = "".join(f" {median / medians[f'kernel, {k}']:13.1f}" for k in kernels)
        print(f"  {rival:44} {1 / median:12.0f}{ratios}")
    peak = float(kernel.ask("peak"))
    print(f"  peak {peak / 1e9:.1f} Gflop/s")
    for k in kernels:
        flops = float(kernel.ask("flops", name, count, law, k))
        print(f"  {k}: {flops:.0f} flops a throw, {100 * flops / medians[f'kernel, {k}'] / peak:.0f} % of the peak")
    return good


def sweep_share(kernel, rounds):
    """Prints the rate of a sweep against that of alike throws, a million each, by rounds that take turns."""
    print("\nsets W and N, const drag, a million throws each")
    for precision in ("exact", "fast"):
        asked = [("round", "W", COUNTS["N"], "const", precision), ("round", "N", COUNTS["N"], "const", f"{precision}+alike")]
        turns = [[float(kernel.ask(*words)) for words in asked] for _ in range(rounds)]
        sweep, alike = (statistics.median(seconds) for seconds in zip(*turns))
        print(f"  {precision}: W {1 / sweep:.0f} and N alike {1 / alike:.0f} per second, {100 * alike / sweep:.1f} %")


def main():
    parser = argparse.ArgumentParser(description="Times the batch of flights against general-purpose libraries.")
    parser.add_argument("rate", help="the program built from crates/bench/src/bin/rate.rs")
    parser.add_argument("--short", action="store_true", help="set N with constant drag only, few rounds")
    options = parser.parse_args()
    kernel = Kernel(str(Path(options.rate).resolve()))
    versions = ", ".join(f"{m.__name__} {m.__version__}" for m in (jax, numba, np))
    print(f"one core, processor time, medians of rounds that take turns; {versions}")
    cases = [("N", "const")] if options.short else [(n, law) for n in REFERENCE["sets"] for law in ("const", "cg")]
    rounds, few = (5, 8) if options.short else (9, 64)
    good = [compare(kernel, KERNELS, name, law, COUNTS[name], rounds, few) for name, law in cases]
    sweep_share(kernel, rounds)
    print(f"\n{sum(good)} passed, {len(good) - sum(good)} failed")
    return 0 if all(good) and good else 1


if __name__ == "__main__":
    sys.exit(main())
