"""Roots of covariances for drawing, the same on every machine.

Splines that nothing tells apart have equal doubts, and of directions with equal doubts an eigensolver gives whichever
it comes upon first: another library version, or another processor, and the same random numbers make other draws. The
roots here hang on the covariance alone.

References
----------
.. [1] N. J. Higham, Functions of Matrices, SIAM 2008, theorem 1.29 (a semidefinite matrix has one semidefinite root).
.. [2] G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed., Johns Hopkins 2013, section 5.1 (reflections).
"""

from __future__ import annotations

import numpy as np

from wearstats.domain.arrays import FloatArray


def symmetric_root(covariance: FloatArray) -> FloatArray:
    """Give the one symmetric root without negative eigenvalues [1]_.

    Parameters
    ----------
    covariance : ndarray, shape (..., n, n)
        Symmetric; eigenvalues below zero count as zero.

    Returns
    -------
    ndarray, shape (..., n, n)
        Times itself it is the covariance.
    """
    values, vectors = np.linalg.eigh(covariance)
    return _put_together(values, vectors)


def widest_last_root(covariance: FloatArray) -> FloatArray:
    """Give a root whose last column is the widest direction, turned so that its sum is not negative.

    Parameters
    ----------
    covariance : ndarray, shape (units, n, n)
        Symmetric; eigenvalues below zero count as zero.

    Returns
    -------
    ndarray, shape (units, n, n)
        Times its transpose it is the covariance. The other columns are the symmetric root of what the widest direction
        leaves, reflected so that this direction is the last axis [2]_.
    """
    values, vectors = np.linalg.eigh(covariance)
    widest = vectors[..., -1]
    widest = widest * np.where(widest.sum(axis=1, keepdims=True) < 0, -1.0, 1.0)
    mirror = widest.copy()
    mirror[:, -1] += 1.0  # never near zero: a direction whose sum is not negative is not minus the last axis
    rest = _put_together(values[:, :-1], vectors[..., :-1])
    along = (rest @ mirror[..., None]) * (2.0 / np.sum(mirror**2, axis=1))[:, None, None]
    turned = rest - along * mirror[:, None, :]
    turned[..., -1] = widest * np.sqrt(np.maximum(values[:, -1:], 0.0))
    return np.asarray(turned)


def _put_together(values: FloatArray, vectors: FloatArray) -> FloatArray:
    """Make the symmetric root of eigenvalues and vectors, shape (..., n, n)."""
    scaled = vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :]
    return np.asarray(scaled @ np.swapaxes(vectors, -1, -2))
