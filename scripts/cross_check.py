"""The table tests/reference/cross_check.json: made, or compared with.

Distribution functions are summed with mpmath at 40 digits from series of positive terms.
Noncentral t and tolerance factors are integrated here, and compared with scipy where that
has them. Nothing here shares a method with crates/quality, where a second one exists.
"""

import json
import sys
from pathlib import Path

import mpmath
import numpy as np
import scipy
from mpmath import mp, mpf
from scipy import integrate, optimize, stats
from scipy.special import ndtr

TABLE = Path(__file__).parent.parent / "tests/reference/cross_check.json"
mp.dps = 40

SIZES = [2, 3, 5, 10, 43, 100, 1000, 30000, 1000000]
CONFIDENCES = [0.5, 0.8, 0.95, 0.99, 0.9999]


def number(x):
    return float(mp.nstr(mpf(x), 17, strip_zeros=False))


def gamma_pq(a, x):
    """P and Q by the series with positive terms; the complement has digits to spare."""
    a, x = mpf(a), mpf(x)
    term = total = mpf(1)
    n = 0
    while term > total * mpf(10) ** -38:
        n += 1
        term *= x / (a + n)
        total += term
    p = mp.exp(a * mp.log(x) - x - mp.loggamma(a + 1)) * total
    return p, 1 - p


def beta_series(a, b, x, y):
    term = total = mpf(1)
    i = 0
    while term > total * mpf(10) ** -38:
        term *= (a + b + i) / (a + 1 + i) * x
        total += term
        i += 1
    front = a * mp.log(x) + b * mp.log(y)
    front += mp.loggamma(a + b) - mp.loggamma(a + 1) - mp.loggamma(b)
    return mp.exp(front) * total


def beta_pq(a, b, x):
    a, b, x = mpf(a), mpf(b), mpf(x)
    # The series with fewer terms; the complement has digits to spare.
    terms_below = (max((a + b) * x - a, 0) + 90) / (1 - x)
    terms_above = (max((a + b) * (1 - x) - b, 0) + 90) / x
    if terms_below < terms_above:
        p = beta_series(a, b, x, 1 - x)
        return p, 1 - p
    q = beta_series(b, a, 1 - x, x)
    return 1 - q, q


def root(f, start, spread, near=mpf(10) ** -20):
    """Root by the secant method, from a close start, to more digits than a double has."""
    a, b = mpf(start), mpf(start) + mpf(spread)
    fa, fb = f(a), f(b)
    for _ in range(30):
        # f is the logarithm of a ratio of shares.
        if fa == fb or abs(fb) < near:
            return b
        a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
        fb = f(b)
    raise ArithmeticError(f"no root near {start}")


def gamma_point(a, below=None, above=None):
    tail = 0 if below is not None else 1
    wanted = mpf(below if below is not None else above)
    start = (stats.gamma.isf if tail else stats.gamma.ppf)(float(wanted), float(a))
    return root(lambda x: mp.log(gamma_pq(a, x)[tail] / wanted), start, start * 1e-9)


def beta_point(a, b, below=None, above=None):
    """The point and what is left of one, by the logit."""
    tail = 0 if below is not None else 1
    wanted = mpf(below if below is not None else above)
    level = float(wanted)
    near, far = (stats.beta.ppf, stats.beta.isf) if tail == 0 else (stats.beta.isf, stats.beta.ppf)
    x, y = near(level, float(a), float(b)), far(level, float(b), float(a))
    start = mp.log(x) - mp.log(y)
    u = root(lambda u: mp.log(beta_pq(a, b, 1 / (1 + mp.exp(-u)))[tail] / wanted), start, 1e-9)
    return 1 / (1 + mp.exp(-u)), 1 / (1 + mp.exp(u))


def t_above(freedom, t):
    """Share above t > 0."""
    v, t = mpf(freedom), mpf(t)
    return beta_pq(v / 2, mpf(1) / 2, v / (v + t * t))[0] / 2


def nct_tails(freedom, delta, t, wanted=("below", "above"), digits=22):
    """Shares below and above t: the integral over s = sqrt(chi2/freedom) of the density
    of s and the normal share, by Gauss-Legendre on pieces of one spread each."""
    with mp.workdps(digits):
        v, d, t = mpf(freedom), mpf(delta), mpf(t)
        front = mp.log(2) + v / 2 * mp.log(v / 2) - mp.loggamma(v / 2)

        def density(s):
            return mp.exp(front + (v - 1) * mp.log(s) - v * s * s / 2)

        spread = 1 / mp.sqrt(2 * v)
        low, high = max(mpf(0), 1 - 14 * spread), 1 + 16 * spread
        middle = d / t if t != 0 else mpf(1)
        narrow = 1 / abs(t) if t != 0 else spread
        marks = {low, high}
        for i in range(-14, 17):
            marks.add(1 + i * spread)
        for i in range(-12, 13):
            marks.add(middle + i * narrow)
        marks = sorted(m for m in marks if low <= m <= high)
        sides = {
            "below": lambda s: density(s) * mp.ncdf(t * s - d),
            "above": lambda s: density(s) * mp.ncdf(d - t * s),
        }
        return [mp.quad(sides[side], marks, method="gauss-legendre", maxdegree=5) for side in wanted]


def one_sided_factor(n, p, conf):
    """k1: from scipy's noncentral t, made exact by nct_tails."""
    v, d = n - 1, mp.sqrt(n) * mp.sqrt(2) * mp.erfinv(2 * mpf(p) - 1)
    start = stats.nct.ppf(conf, v, float(d))
    f = lambda t: mp.log(nct_tails(v, d, t, ["above"])[0] / (1 - mpf(conf)))
    return root(f, start, start * 1e-8, mpf(10) ** -14) / mp.sqrt(n)


def two_sided_factor(n, p, conf):
    """k2 by the outer integral over the mean (numpy), and checked by the one over s."""
    v = n - 1
    z = np.linspace(0, 10, 2001)
    r = content_width(z / np.sqrt(n), p)
    w = stats.norm.pdf(z) * (z[1] - z[0]) * 2
    w[0] /= 2

    def missed(k):
        return float(np.sum(w * stats.chi2.cdf(v * (r / k) ** 2, v)))

    guess = stats.norm.ppf((1 + p) / 2) * np.sqrt(v * (1 + 1 / n) / stats.chi2.ppf(1 - conf, v))
    log = optimize.brentq(lambda u: np.log(missed(np.exp(u)) / (1 - conf)), np.log(guess) - 1, np.log(guess) + 1, xtol=1e-15, rtol=8.9e-16)
    return float(np.exp(log))


def content_width(x, p):
    """r with Phi(x + r) - Phi(x - r) = p, for an array of x, by bisection and Newton."""
    missing = lambda r: ndtr(-x - r) + ndtr(x - r) - (1 - p)
    low, high = np.zeros_like(x), x + stats.norm.ppf((1 + p) / 2) + 1
    for _ in range(40):
        middle = (low + high) / 2
        above = missing(middle) > 0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    r = (low + high) / 2
    for _ in range(3):
        r = r + missing(r) / (stats.norm.pdf(x + r) + stats.norm.pdf(r - x))
    return r


def two_sided_confidence(n, p, k):
    """The confidence of k by the other integral, over s."""
    v = n - 1
    half = stats.norm.ppf((1 + p) / 2)

    def reach(width):
        """x with Phi(x + width) - Phi(x - width) = p."""
        if width <= half:
            return 0.0
        f = lambda x: ndtr(-x - width) + ndtr(x - width) - (1 - p)
        return optimize.brentq(f, 0, width + 10, xtol=1e-14)

    # s = half/k + y^2 takes the root at the edge away.
    low = half / k
    def g(y):
        s = low + y * y
        return 2 * y * np.sqrt(v) * stats.chi.pdf(s * np.sqrt(v), v) * (2 * stats.norm.sf(np.sqrt(n) * reach(k * s)))
    spread = 1 / np.sqrt(2 * v)
    top = 1 + 12 * spread
    missed_outside = stats.chi.cdf(low * np.sqrt(v), v)
    if top <= low:
        return 1 - missed_outside
    ys = np.sqrt(np.linspace(0, top - low, 60))
    inside = sum(integrate.quad(g, a, b, epsabs=0, epsrel=1e-12)[0] for a, b in zip(ys, ys[1:]))
    return 1 - missed_outside - inside


def rows():
    for z in [-37.0, -20.0, -8.0, -3.0, -1.0, -0.1, 0.0, 0.5, 2.0, 5.0]:
        yield "normal below", {"z": z}, mp.erfc(-mpf(z) / mp.sqrt(2)) / 2, 1e-12
    for p in [1e-300, 1e-20, 1e-4, 0.025, 0.4999, 0.75, 0.9999]:
        start = stats.norm.ppf(p)
        z = root(lambda z: mp.log(mp.erfc(-z / mp.sqrt(2)) / 2 / mpf(p)), start, 1e-9)
        yield "normal quantile", {"below": p}, z, 1e-12
    for a in [0.5, 1.0, 2.5, 10.0, 150.0, 199.5, 200.0, 500.0, 1e4, 1e6, 1e8]:
        for level in [1e-12, 1e-4, 0.3, 0.5, 0.7]:
            for side in ["below", "above"]:
                x = float(gamma_point(a, **{side: level})) if a < 1e7 else float(a + np.sqrt(a) * (1 if side == "above" else -1) * stats.norm.isf(level))
                p, q = gamma_pq(a, x)
                yield "gamma below", {"shape": a, "x": x}, p, 1e-11
                yield "gamma above", {"shape": a, "x": x}, q, 1e-11
                if a < 1e7:
                    yield "gamma quantile", {"shape": a, side: level}, gamma_point(a, **{side: level}), 1e-12
    pairs = [(0.5, 0.5), (1, 1), (0.5, 5e5), (5e5, 0.5), (3, 7), (7.5, 2), (199, 201), (200, 200), (300, 5000), (1, 1000000), (1000000, 1), (150, 999851), (500000, 500001), (1000, 999001)]
    for a, b in pairs:
        for level in [1e-12, 1e-4, 0.3, 0.5, 0.7]:
            for side in ["below", "above"]:
                point, rest = beta_point(a, b, **{side: level})
                x = float(point)
                if x < 1:
                    p, q = beta_pq(a, b, x)
                    yield "beta below", {"a": a, "b": b, "x": x}, p, 1e-10
                    yield "beta above", {"a": a, "b": b, "x": x}, q, 1e-10
                yield "beta quantile", {"a": a, "b": b, side: level}, point, 1e-11
                yield "beta rest", {"a": a, "b": b, side: level}, rest, 1e-11
    for v in [1, 2, 2.5, 7.3, 30, 1000, 1e4, 1e6, 1e8, 1e10]:
        for q in [1e-10, 1e-4, 0.025, 0.25, 0.4999]:
            start = stats.t.isf(q, min(v, 1e6))
            t = root(lambda t: mp.log(t_above(v, t) / mpf(q)), start, abs(start) * 1e-9)
            yield "student t quantile", {"freedom": v, "above": q}, t, 1e-11
            yield "student t above", {"freedom": v, "t": float(t)}, t_above(v, float(t)), 1e-11
    for d1, d2, q in [(1, 1, 0.05), (2, 60, 0.01), (9, 18, 1e-15), (4, 20, 0.3), (1000, 1000, 0.05), (5, 1e6, 0.95)]:
        x, y = beta_point(mpf(d1) / 2, mpf(d2) / 2, above=q)
        yield "f quantile", {"numerator": d1, "denominator": d2, "above": q}, x / y * d2 / d1, 1e-10
    for lot, bad, n, k in [(50, 5, 8, 0), (100, 10, 20, 1), (1000, 100, 80, 5), (1000, 100, 80, 15), (100000, 2000, 1250, 21), (100000, 2000, 1250, 45), (1000000, 500000, 2000, 900)]:
        total = sum((mp.binomial(bad, i) * mp.binomial(lot - bad, n - i) for i in range(k + 1)), mpf(0)) / mp.binomial(lot, n)
        yield "hypergeometric below", {"lot": lot, "bad": bad, "n": n, "k": k}, total, 1e-10
        yield "hypergeometric above", {"lot": lot, "bad": bad, "n": n, "k": k}, 1 - total, 1e-10
    for v, d, t in [(1, 0.5, 1.0), (1, 3.0, 50.0), (3, -2.0, 1.5), (4, 2.9, 6.7), (9, 5.0, 2.0), (9, 10.0, 60.0), (42, 8.4, 12.3), (199, 40.0, 38.0), (999, 73.5, 80.0), (999999, 3000.0, 3005.0), (20, 0.0, 2.0), (7, 4.0, -1.0), (5, 30.0, 35.0)]:
        below, above = nct_tails(v, d, t)
        small = min(below, above)
        if v < 1e5 and small > 1e-6:
            other = stats.nct.cdf(t, v, d)
            assert abs(other / float(below) - 1) < 1e-8, (v, d, t, other, below)
        args = {"freedom": v, "delta": d, "t": t}
        yield "noncentral t below", args, below, 1e-9
        yield "noncentral t above", args, above, 1e-9
    for n in SIZES:
        for conf in CONFIDENCES:
            for p in [0.5, 0.9, 0.9973] if conf == 0.95 else [0.99]:
                yield "one-sided factor", {"n": n, "share": p, "confidence": conf}, one_sided_factor(n, p, conf), 1e-8
                yield "two-sided factor", {"n": n, "share": p, "confidence": conf}, two_sided_factor(n, p, conf), 1e-8
    for n in SIZES:
        for x in sorted({0, 1, n // 10, n // 2, n - 1, n}):
            for conf in CONFIDENCES:
                half = (1 - mpf(conf)) / 2
                args = {"good": x, "n": n, "confidence": conf}
                low = beta_point(x, n - x + 1, below=half)[0] if x > 0 else mpf(0)
                high = beta_point(x + 1, n - x, above=half)[0] if x < n else mpf(1)
                yield "clopper-pearson low", args, low, 1e-10
                yield "clopper-pearson high", args, high, 1e-10
    for x in [0, 1, 2, 5, 17, 100, 1000, 30000, 1000000]:
        for conf in CONFIDENCES:
            half = (1 - mpf(conf)) / 2
            args = {"count": x, "confidence": conf}
            yield "garwood low", args, gamma_point(x, below=half) if x > 0 else mpf(0), 1e-10
            yield "garwood high", args, gamma_point(x + 1, above=half), 1e-10


def check_two_sided():
    """The two integrals for k2 agree."""
    for n, p, conf in [(2, 0.99, 0.95), (5, 0.9, 0.95), (43, 0.9, 0.99), (1000, 0.99, 0.8)]:
        other = two_sided_confidence(n, p, two_sided_factor(n, p, conf))
        assert abs((1 - other) / (1 - conf) - 1) < 1e-7, (n, p, conf, other)


def main():
    check_two_sided()
    made = []
    for f, inputs, value, tolerance in rows():
        if len(made) % 100 == 0:
            print(len(made), f, file=sys.stderr)
        made.append({"function": f, "inputs": inputs, "expected": number(value), "rel_tol": tolerance})
    if "--write" in sys.argv:
        lines = ",\n".join("  " + json.dumps(row) for row in made)
        about = {
            "group": "cross check",
            "about": "Values of distributions and exact limits over a wide range, made by scripts/cross-check.",
            "status": f"computed with mpmath {mpmath.__version__}, scipy {scipy.__version__}, numpy {np.__version__}",
        }
        head = json.dumps(about, indent=1)[:-2]
        TABLE.write_text(f'{head},\n "cases": [\n{lines}\n ]\n}}\n')
        print(f"{len(made)} values written")
        return 0
    recorded = json.loads(TABLE.read_text())["cases"]
    worst = 0.0
    assert [r["inputs"] for r in recorded] == [m["inputs"] for m in made], "other inputs: run with --write"
    for old, new in zip(recorded, made):
        difference = abs(old["expected"] - new["expected"])
        worst = max(worst, difference / (abs(new["expected"]) or 1.0))
        if difference > 0.1 * old["rel_tol"] * abs(new["expected"]):
            print(f"differs: {old} now {new['expected']}")
            return 1
    print(f"{len(made)} values agree; the largest relative difference is {worst:.1e}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
