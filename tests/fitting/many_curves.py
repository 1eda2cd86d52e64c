"""Curves that the tests of fits by the thousand share: every flow law with known parameters and seeded noise."""

import numpy as np

import rheokit as rk

RATES = np.geomspace(0.01, 1000.0, 30)
TRUTH = {
    "newtonian": (2.0,),
    "power_law": (14.0, 0.38),
    "bingham": (40.0, 2.0),
    "herschel_bulkley": (40.0, 14.0, 0.45),
    "casson": (30.0, 1.5),
    "cross": (900.0, 0.8, 4.0, 0.75),
    "carreau_yasuda": (900.0, 0.8, 4.0, 1.5, 0.3),
    "sisko": (0.8, 20.0, 0.3),
    "herschel_bulkley_plateau": (40.0, 14.0, 0.35, 0.6),
}


def curves(name, count, seed=1, noise=0.03, rates=RATES):
    """Return stresses (count, M) of inks spread around the truth by a fifth, and their standard deviations."""
    generator = np.random.default_rng(seed)
    law = rk.MODELS[name]
    ends = np.array([(parameter.lower + 1e-3, parameter.upper) for parameter in law.parameters])
    inks = np.array(TRUTH[name]) * np.exp(0.2 * generator.standard_normal((count, len(TRUTH[name]))))
    inks = np.clip(inks, ends[:, 0], np.where(np.isfinite(ends[:, 1]), 0.95 * ends[:, 1], np.inf))
    exact = law.value(rates, *inks.T[:, :, None])
    return exact * (1.0 + noise * generator.standard_normal(exact.shape)), noise * exact
