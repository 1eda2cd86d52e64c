"""What the data of a curve do not see, by singular values of the scaled derivatives, for the few curves where it matters."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.request import BoolArray
from rheokit.fitting.slope import UNSEEN

__all__ = ["decompose"]

# Share of a parameter in an unseen direction above which it is not determined.
_SHARE = 1e-4


def decompose(jacobian: FloatArray, residual: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return what holds in the directions that the data see.

    Parameters
    ----------
    jacobian
        Weighted derivatives, (H, M, f).
    residual
        Weighted residuals, (M, H).

    Returns
    -------
    step, covariance, along, hidden
        (f, H), (f, f, H), (H,) and (f, H): the step to take, the covariance for residuals of unit scale, the squared length of the
        residuals along the derivatives, and which parameters lie in a direction that is not seen.
    """
    broken = np.logical_not(np.isfinite(jacobian).all(axis=(1, 2)))
    jacobian = np.where(broken[:, None, None], 0.0, jacobian)
    norms = np.sqrt(np.einsum("hmf,hmf->hf", jacobian, jacobian))
    inverse = np.where(norms > 0.0, 1.0 / np.where(norms > 0.0, norms, 1.0), 0.0)
    directions, sizes, rows = np.linalg.svd(jacobian * inverse[:, None, :], full_matrices=False)
    seen = sizes > UNSEEN * sizes[:, :1]
    heights = np.where(seen, np.einsum("hmk,mh->hk", directions, residual), 0.0)
    inverse_sizes = np.where(seen, 1.0 / np.where(seen, sizes, 1.0), 0.0)
    roots = rows * inverse_sizes[:, :, None] * inverse[:, None, :]
    step = np.einsum("hkf,hk->fh", roots, heights)
    covariance = np.einsum("hkf,hkg->fgh", roots, roots)
    hidden = (np.abs(rows) * ~seen[:, :, None]).max(axis=1) > _SHARE
    along = np.where(broken, np.inf, np.einsum("hk,hk->h", heights, heights))
    return step, covariance, along, hidden.T
