"""Recomputes tests/reference/trials.json with scipy from its inputs, and compares.

Fisher's exact test is scipy's own, over strata all combinations one by one; the mixture evidence is
integrated numerically, without the incomplete beta function; the penalised likelihood is maximised
by simplex and BFGS, without its score equations.
"""

import itertools
import json
import sys
from math import comb
from pathlib import Path

import numpy as np
from scipy import integrate, optimize, stats
from scipy.special import expit

CASES = Path(__file__).parent.parent / "tests/reference/trials.json"


def fisher(inputs):
    tables = [[[a, b], [c, d]] for a, b, c, d in inputs["rows"]]
    return {
        "two_sided": [stats.fisher_exact(t).pvalue for t in tables],
        "second_better": [stats.fisher_exact(t, alternative="less").pvalue for t in tables],
    }


def stratified(inputs):
    """Every combination of the second groups' good ones, one by one."""

    def p(strata):
        laws, sums = [], {}
        for good1, bad1, good2, bad2 in strata:
            law = stats.hypergeom(good1 + bad1 + good2 + bad2, good1 + good2, good2 + bad2)
            laws.append([(k, law.pmf(k)) for k in range(good2 + bad2 + 1)])
        for way in itertools.product(*laws):
            total = sum(k for k, _ in way)
            sums[total] = sums.get(total, 0) + np.prod([chance for _, chance in way])
        here = sums[sum(good2 for _, _, good2, _ in strata)]
        return min(1, sum(chance for chance in sums.values() if chance <= here * (1 + 1e-7)))

    return {"two_sided": [p(strata) for strata in inputs["rows"]]}


def holm(inputs):
    p = np.array(inputs["p"])
    order = np.argsort(p)
    steps = np.minimum(1, np.maximum.accumulate((len(p) - np.arange(len(p))) * p[order]))
    adjusted = np.empty(len(p))
    adjusted[order] = steps
    return {"adjusted": list(adjusted)}


def evidence(good, bad, share):
    """With x = sin(t)^2 the density of beta(1/2, 1/2) is flat."""
    start = np.arcsin(np.sqrt(share))
    ratio = lambda t: (np.sin(t) ** 2 / share) ** good * (np.cos(t) ** 2 / (1 - share)) ** bad
    mixed, _ = integrate.quad(ratio, start, np.pi / 2, epsabs=0, epsrel=1e-12)
    return np.log(mixed / (np.pi / 2 - start))


def sequential(inputs):
    rows = inputs["rows"]
    return {
        "above": [evidence(s, f, r) for s, f, r in rows],
        "below": [evidence(f, s, 1 - r) for s, f, r in rows],
    }


def more_good(inputs):
    def count(good, bad, share, error):
        more = 0
        while evidence(good + more, bad, share) < -np.log(error):
            more += 1
        return more

    return {"more": [count(*row) for row in inputs["rows"]]}


def penalised(x, good, held=None):
    """Top of the penalised likelihood, one coefficient held at a value."""
    x = np.column_stack([np.ones(len(x)), x])
    free = [j for j in range(x.shape[1]) if held is None or j != held[0]]

    def minus(values):
        b = np.zeros(x.shape[1])
        b[free] = values
        if held is not None:
            b[held[0]] = held[1]
        eta = x @ b
        p = expit(eta)
        _, ln_det = np.linalg.slogdet(x.T @ (x * (p * (1 - p))[:, None]))
        return np.sum(np.logaddexp(0, np.where(good, -eta, eta))) - 0.5 * ln_det

    exact = {"xatol": 1e-12, "fatol": 1e-15, "maxiter": 40000, "maxfev": 40000}
    near = optimize.minimize(minus, np.full(len(free), 0.1), method="Nelder-Mead", options=exact)
    top = optimize.minimize(minus, near.x, method="BFGS", options={"gtol": 1e-11})
    return list(top.x), -top.fun


def firth(inputs):
    x, good = np.array(inputs["x"], float), np.array(inputs["good"])
    b, top = penalised(x, good)
    allowed = stats.chi2.ppf(inputs["confidence"], 1)
    found = {"coefficients": b, "ln_likelihood": top, "p": [], "low": [], "high": []}
    for j in range(1, len(b)):
        below = lambda value: 2 * (top - penalised(x, good, (j, value))[1])
        found["p"].append(stats.chi2.sf(below(0.0), 1))
        for name, sign in (("low", -1), ("high", 1)):
            reach = 1.0
            while below(b[j] + sign * reach) < allowed:
                reach *= 2
            over = lambda t: below(b[j] + sign * t) - allowed
            found[name].append(b[j] + sign * optimize.brentq(over, 0, reach, xtol=1e-9))
    return found


def half_added(inputs):
    n = {name: inputs[name] + 0.5 for name in inputs}
    ratio = n["good2"] / n["bad2"] / (n["good1"] / n["bad1"])
    return {"coefficient": 0.5 * np.log(ratio)}


def separating(inputs):
    """Each explanation as a rule that puts a trial into a case; every case has a chance of its own,
    integrated out numerically."""
    count = inputs["settings"]
    trials = [(tuple(as_good), good) for as_good, good in inputs["tried"]]
    rules = [(1 / (count + 1), (), lambda kept: 0)]
    for size in range(1, count + 1):
        for chosen in itertools.combinations(range(count), size):
            ways = [lambda kept, of=chosen: all(kept[i] for i in of)]
            if size > 1:
                ways.append(lambda kept, of=chosen: any(kept[i] for i in of))
                ways.append(lambda kept, of=chosen: tuple(kept[i] for i in of))
            prior = 1 / (count + 1) / comb(count, size) / len(ways)
            rules += [(prior, chosen, way) for way in ways]

    def counts(rule):
        cases = {}
        for kept, good in trials:
            case = cases.setdefault(rule(kept), [0, 0])
            case[0 if good else 1] += 1
        return cases

    def mean(power, good, bad):
        return integrate.quad(lambda p: p ** (good + power) * (1 - p) ** bad, 0, 1, epsrel=1e-12)[0]

    weights = np.array(
        [prior * np.prod([mean(0, *case) for case in counts(rule).values()]) for prior, _, rule in rules]
    )
    weights /= weights.sum()

    def chance(rule, kept):
        good, bad = counts(rule).get(rule(kept), (0, 0))
        return mean(1, good, bad) / mean(0, good, bad)

    def told(kept):
        chances = np.array([chance(rule, kept) for _, _, rule in rules])
        entropy = lambda p: stats.entropy([p, 1 - p], base=2)
        return entropy(weights @ chances) - weights @ [entropy(p) for p in chances]

    made = [sum(w for w, (_, of, _) in zip(weights, rules) if i in of) for i in range(count)]
    return {
        "made": made,
        "none": weights[0],
        "open_bits": stats.entropy(weights, base=2),
        "bits": max(told(kept) for kept in itertools.product([True, False], repeat=count)),
    }


def yields(inputs):
    """Half widths of the interval for sums of logarithms, from variances and numbers of runs."""
    z = stats.norm.ppf(0.5 + inputs["confidence"] / 2)
    found = []
    for variances, runs in inputs["rows"]:
        n = np.array(runs)
        parts, f = np.array(variances) * (1 + 1 / n), n - 1
        w = parts / parts.sum()
        below = (w**2 / f).sum()
        series = 1.4 * (3 + 5 * z**2 + z**4) / 3 * ((w**3 / f**2).sum() - below**2)
        series -= (1 + z**2) / 2 * ((w**2 / f**2).sum() - below**2)
        t = lambda freedom: stats.t.ppf(0.5 + inputs["confidence"] / 2, freedom)
        half = max(z, min(t(1 / below) * np.exp(series), t(f.min()))) * np.sqrt(parts.sum())
        for at in np.flatnonzero(f == 1):
            other = np.arange(len(f)) != at
            known = 1 - (parts[other] / f[other]).sum() / parts[other].sum() if other.any() else 0
            half = max(half, t(1) * np.sqrt(parts[at]) * known**2)
        found.append(half)
    return {"half": found}


METHODS = {
    "fisher": fisher,
    "fisher-tea": fisher,
    "stratified": stratified,
    "holm": holm,
    "sequential-evidence": sequential,
    "sequential-more-good": more_good,
    "firth-half-added": half_added,
    "separating-crossed": separating,
    "separating-three": separating,
    "yield-product": yields,
}


def main():
    cases = json.loads(CASES.read_text())["cases"]
    for case in cases:
        found = METHODS.get(case["id"], firth)(case["inputs"])
        for name, expected in case["expected"].items():
            allowed = {"rtol": case.get("rel_tol", 0), "atol": case.get("abs_tol", 1e-12)}
            if not np.allclose(found[name], expected, **allowed):
                print(f"{case['id']}: {name} is {found[name]}, recorded {expected}")
                return 1
    print(f"{len(cases)} cases of trials agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
