"""A linear mixed model for a few states of many shafts, whose measuring errors have a known covariance.

The states of one shaft after another, about which a model of growth speaks, are::

    response = fixed columns + random loads x own effects + measuring error (known) + residual

The own effects are independent between shafts, each with a variance of its own. The measuring error has a part that
belongs to one shaft alone, and a part that shafts share (a hand that measured several of them, the doubt of a mean).

References
----------
.. [1] N. M. Laird, J. H. Ware, Random-effects models for longitudinal data, Biometrics 38 (1982) 963-974.
.. [2] M. G. Kenward, J. H. Roger, Small sample inference for fixed effects from restricted maximum likelihood,
   Biometrics 53 (1997) 983-997: the variance of the coefficients allows for that of the variances, and a t distribution
   for the degrees of freedom. With one coefficient at a time these are those of Satterthwaite.
.. [3] C. R. Henderson, Best linear unbiased estimation and prediction under a selection model, Biometrics 31 (1975)
   423-447.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.numerics.reml import RemlFit, RemlPoint, maximise_reml
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedBlocks:
    """The arrays of a model; a block is a shaft, padded to the most states that any has.

    Parameters
    ----------
    response : ndarray, shape (shafts, states)
        What is explained; whatever stands where nothing was seen is not looked at.
    seen : ndarray of bool, shape (shafts, states)
        Which states there are.
    fixed : ndarray, shape (shafts, states, fixed)
        Columns with unknown coefficients.
    loads : ndarray, shape (shafts, states, own)
        Columns whose coefficients are the shaft's own, normal about zero.
    own_error : ndarray, shape (shafts, states, states)
        Known covariance of the measuring errors that no other shaft shares.
    shared_error : ndarray, shape (shafts, states, shared)
        How each state hangs on standard normal errors that shafts share.
    correlated : bool
        Whether the first two own effects are correlated; their covariance is then one more component, the last.
    """

    response: FloatArray
    seen: NDArray[np.bool_]
    fixed: FloatArray
    loads: FloatArray
    own_error: FloatArray
    shared_error: FloatArray
    correlated: bool = False

    @property
    def components(self) -> int:
        """Variances: one an own effect, the residual, and the covariance where there is one."""
        return int(self.loads.shape[2]) + 1 + int(self.correlated)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedFit:
    """The model fitted.

    Parameters
    ----------
    coefficients : ndarray, shape (fixed,)
        Of the fixed columns.
    covariance : ndarray, shape (fixed, fixed)
        Of their errors, with the doubt of the variances in it [2]_.
    variances : ndarray, shape (components,)
        Of the own effects, then the residual, then the covariance; exactly 0.0 where the likelihood falls from zero.
    variance_covariance : ndarray, shape (components, components)
        Of their errors: twice the inverse of the expected information; zero rows for those at zero.
    criterion : float
        Minus twice the restricted log likelihood.
    own : ndarray, shape (shafts, own)
        Best linear predictions of the own effects.
    likelihood : MixedLikelihood
        What was maximised.
    """

    coefficients: FloatArray
    covariance: FloatArray
    variances: FloatArray
    variance_covariance: FloatArray
    criterion: float
    own: FloatArray
    likelihood: MixedLikelihood
    _solved: _Solved
    _changes: FloatArray

    def combine(self, weights: FloatArray) -> tuple[float, float, float]:
        """Estimate a combination of the coefficients.

        Parameters
        ----------
        weights : ndarray, shape (fixed,)
            Of each coefficient.

        Returns
        -------
        value, se, df : float
            The estimate, its standard error, and the degrees of freedom of its t distribution [2]_.
        """
        value = float(weights @ self.coefficients)
        return value, float(np.sqrt(weights @ self.covariance @ weights)), self._freedom(weights)

    def _freedom(self, weights: FloatArray) -> float:
        plain = float(weights @ self._solved.inverse[: weights.size, : weights.size] @ weights)
        slope = np.einsum("a,kab,b->k", weights, self._changes, weights)
        spread = float(slope @ self.variance_covariance @ slope)
        return max(2 * plain**2 / spread, 1.0) if spread > 0 else np.inf

    def predict(self, weights: FloatArray, own: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predict combinations of the coefficients with each shaft's own effects.

        Parameters
        ----------
        weights : ndarray, shape (shafts, fixed)
            Of each coefficient.
        own : ndarray, shape (shafts, own)
            Of the shaft's own effects.

        Returns
        -------
        value, variance : ndarray, shape (shafts,)
            The prediction, and the variance of its error at the fitted variances.
        """
        return self.likelihood.predict(self._solved, self.variances, weights, own)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """The system at one set of variances; ``residual`` is P y, ``inverse`` that of M: see `MixedLikelihood`."""

    columns: FloatArray
    solved: FloatArray
    inverse: FloatArray
    coefficients: FloatArray
    residual: FloatArray
    block_inverse: FloatArray
    criterion: float


class MixedLikelihood:
    """The restricted likelihood as a function of the variances.

    Parameters
    ----------
    blocks : MixedBlocks
        The arrays.

    Notes
    -----
    With D the block diagonal part of the covariance, C the fixed columns beside the shared ones, and
    M = C' D^-1 C + I on the shared columns, P y = D^-1 (y - C M^-1 C' D^-1 y): nothing larger than a shaft or M is
    built.
    """

    def __init__(self, blocks: MixedBlocks) -> None:
        self.blocks = blocks
        seen = blocks.seen
        pair = seen[:, :, None] & seen[:, None, :]
        self._response = np.where(seen, blocks.response, 0.0)
        columns = np.concatenate([blocks.fixed, blocks.shared_error], axis=2)
        self._columns = np.where(seen[..., None], columns, 0.0)
        loads = np.where(seen[..., None], blocks.loads, 0.0)
        parts = [np.einsum("ns,nt->nst", load, load) for load in np.moveaxis(loads, 2, 0)]
        diagonal = np.arange(seen.shape[1])
        residual = np.zeros(pair.shape)
        residual[:, diagonal, diagonal] = seen
        parts.append(residual)
        if blocks.correlated:
            cross = np.einsum("ns,nt->nst", loads[..., 0], loads[..., 1])
            parts.append(cross + np.swapaxes(cross, 1, 2))
        self._loads = loads
        self._parts = np.stack(parts)
        self._error = np.where(pair, blocks.own_error, 0.0)
        self._error[:, diagonal, diagonal] += ~seen
        self._count = int(seen.sum())

    def evaluate(self, variances: FloatArray) -> RemlPoint:
        """Criterion, score and average information at the variances, shape (components,)."""
        solved = self._solve(variances)
        working = self._parts @ solved.residual[..., None]
        half = solved.block_inverse @ working
        cross = np.einsum("nsc,knsx->kc", solved.columns, half)
        information = np.einsum("knsx,lnsx->kl", working, half) - cross @ solved.inverse @ cross.T
        squares = np.einsum("ns,knsx->k", solved.residual, working)
        traces = np.einsum("nst,knts->k", solved.block_inverse, self._parts)
        traces -= np.sum(solved.inverse * self._inner(solved), axis=(1, 2))
        return RemlPoint(criterion=solved.criterion, score=0.5 * (squares - traces), information=0.5 * information)

    def _inner(self, solved: _Solved) -> FloatArray:
        """Give C' D^-1 Z D^-1 C of every component, shape (components, columns, columns)."""
        flat = solved.solved.reshape(-1, solved.solved.shape[2])
        moved = self._parts @ solved.solved
        return np.asarray(flat.T @ moved.reshape(self._parts.shape[0], *flat.shape))

    def _solve(self, variances: FloatArray) -> _Solved:
        blocks = self.blocks
        if blocks.correlated and variances[-1] ** 2 > variances[0] * variances[1]:
            raise np.linalg.LinAlgError("no such correlation")
        covariance = self._error + np.einsum("k,knst->nst", variances, self._parts)
        factor = np.linalg.cholesky(covariance)
        root = np.linalg.inv(factor)
        block_inverse = np.swapaxes(root, 1, 2) @ root
        columns = self._columns
        solved = block_inverse @ columns
        fixed = blocks.fixed.shape[2]
        system = np.einsum("nsc,nsd->cd", columns, solved)
        shared = np.arange(fixed, system.shape[0])
        system[shared, shared] += 1.0
        system_factor = np.linalg.cholesky(system)
        system_root = np.linalg.inv(system_factor)
        inverse = system_root.T @ system_root
        right = np.einsum("nsc,ns->c", solved, self._response)
        coefficients = inverse @ right
        residual = (block_inverse @ (self._response - columns @ coefficients)[..., None])[..., 0]
        criterion = (
            2 * float(np.sum(np.log(np.diagonal(factor, axis1=1, axis2=2))))
            + 2 * float(np.sum(np.log(np.diag(system_factor))))
            + float(np.sum(self._response * residual))
            + (self._count - fixed) * np.log(2 * np.pi)
        )
        return _Solved(
            columns=columns, solved=solved, inverse=inverse, coefficients=coefficients, residual=residual,
            block_inverse=block_inverse, criterion=criterion,
        )  # fmt: skip

    def fit(self, start: FloatArray, *, free: NDArray[np.bool_] | None = None) -> MixedFit:
        """Maximise, and give the coefficients with their errors.

        Parameters
        ----------
        start : ndarray, shape (components,)
            Where to begin; components that are not `free` stay there.
        free : ndarray of bool, shape (components,), optional
            Which components are estimated; all by default.

        Raises
        ------
        AnalysisError
            When fixed columns cannot be told apart, or the variances do not settle.
        """
        fixed = self.blocks.fixed.shape[2]
        if np.linalg.matrix_rank(self._columns[..., :fixed].reshape(-1, fixed)) < fixed:
            raise AnalysisError(
                "what the growth hangs on cannot be told apart", needed="more shafts inspected again after running"
            )
        reml = self._maximise(start, free)
        solved = self._solve(reml.variances)
        inner = self._inner(solved)
        changes = np.einsum("ab,kbc,cd->kad", solved.inverse[:fixed], inner, solved.inverse[:, :fixed])
        information = self._expected_information(solved, inner)
        inside = reml.free & (reml.variances != 0)
        doubt = np.zeros_like(information)
        doubt[np.ix_(inside, inside)] = np.linalg.pinv(information[np.ix_(inside, inside)], hermitian=True)
        plain = solved.inverse[:fixed, :fixed]
        # once for the doubt of the variances, once for the plain inverse, which at their estimates is too small [2]
        adjusted = plain + 2 * self._adjustment(solved, inside, doubt)
        own = np.einsum("nso,ns->no", self._loads, solved.residual) @ self._own_covariance(reml.variances)
        return MixedFit(
            coefficients=solved.coefficients[:fixed],
            covariance=adjusted,
            variances=reml.variances,
            variance_covariance=doubt,
            criterion=reml.point.criterion,
            own=own,
            likelihood=self,
            _solved=solved,
            _changes=changes,
        )

    def _maximise(self, start: FloatArray, free: NDArray[np.bool_] | None) -> RemlFit:
        """Walk to the maximum; a covariance may be negative, so the walk sees it moved up."""
        move = np.zeros(self.blocks.components)
        if self.blocks.correlated:
            move[-1] = 100 * np.sqrt(start[0] * start[1])

        def evaluate(moved: FloatArray) -> RemlPoint:
            return self.evaluate(moved - move)

        positive = np.zeros(self.blocks.components, dtype=bool)
        positive[self._loads.shape[2]] = not np.any(self.blocks.own_error)
        free = np.ones(start.shape, dtype=bool) if free is None else free
        try:
            found = maximise_reml(evaluate, start + move, free=free, positive=positive, tolerance=1e-10)
        except AnalysisError:
            found = _best_on_an_edge(evaluate, start + move, free, positive)
        return RemlFit(
            variances=found.variances - move,
            point=found.point,
            covariance=found.covariance,
            free=found.free,
            iterations=found.iterations,
        )

    def _own_covariance(self, variances: FloatArray) -> FloatArray:
        """Covariance of a shaft's own effects, shape (own, own)."""
        own = np.diag(variances[: self._loads.shape[2]])
        if self.blocks.correlated:
            own[0, 1] = own[1, 0] = variances[-1]
        return own

    def _expected_information(self, solved: _Solved, inner: FloatArray) -> FloatArray:
        """Half the traces of P Z_k P Z_l, shape (components, components)."""
        turned = solved.block_inverse @ self._parts
        first = np.einsum("knst,lnts->kl", turned, turned, optimize=True)
        left = self._parts @ solved.solved
        count = left.shape[0]
        right = (solved.block_inverse @ left @ solved.inverse).reshape(count, -1)
        second = left.reshape(count, -1) @ right.T
        shared = solved.inverse @ inner
        third = shared.reshape(count, -1) @ np.swapaxes(shared, 1, 2).reshape(count, -1).T
        return np.asarray(0.5 * (first - 2 * second + third))

    def _adjustment(self, solved: _Solved, inside: NDArray[np.bool_], doubt: FloatArray) -> FloatArray:
        """Kenward and Roger's sum over pairs of components: B' Z_k P Z_l B weighted by the doubt of the variances."""
        fixed = self.blocks.fixed.shape[2]
        pull = solved.solved @ solved.inverse[:, :fixed]
        moved = self._parts @ pull
        half = solved.block_inverse @ moved
        across = np.einsum("nsc,knsf->kcf", solved.columns, half)
        pairs = np.einsum("knsf,lnsg->klfg", moved, half, optimize=True)
        pairs -= np.einsum("kcf,cd,ldg->klfg", across, solved.inverse, across, optimize=True)
        weight = np.where(inside[:, None] & inside, doubt, 0.0)
        return np.asarray(np.einsum("kl,klfg->fg", weight, pairs))

    def predict(
        self, solved: _Solved, variances: FloatArray, weights: FloatArray, own: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Predict combinations of coefficients and own effects: see `MixedFit.predict`."""
        fixed = self.blocks.fixed.shape[2]
        spread = self._own_covariance(variances)
        reach = np.einsum("nso,no->ns", self._loads @ spread, own)
        value = weights @ solved.coefficients[:fixed] + np.sum(reach * solved.residual, axis=1)
        short = -np.einsum("nsc,ns->nc", solved.solved, reach)
        short[:, :fixed] += weights
        variance = (
            np.einsum("no,op,np->n", own, spread, own)
            - np.einsum("ns,nst,nt->n", reach, solved.block_inverse, reach)
            + np.einsum("nc,cd,nd->n", short, solved.inverse, short)
        )
        return value, np.maximum(variance, 0.0)


def _best_on_an_edge(
    evaluate: Callable[[FloatArray], RemlPoint],
    start: FloatArray,
    free: NDArray[np.bool_],
    positive: NDArray[np.bool_],
) -> RemlFit:
    """Maximise with one variance or more held at zero, where the walk got stuck between two edges; the best of all.

    Raises
    ------
    AnalysisError
        When none settles.
    """
    found: list[RemlFit] = []
    may = np.flatnonzero(free & ~positive)
    for code in range(1, 2**may.size):
        zero = np.isin(np.arange(start.size), may[(code >> np.arange(may.size)) % 2 == 1])
        try:
            fit = maximise_reml(
                evaluate, np.where(zero, 0.0, start), free=free & ~zero, positive=positive, tolerance=1e-10
            )
        except (AnalysisError, np.linalg.LinAlgError):
            continue
        found.append(fit)
    if not found:
        raise AnalysisError(
            "the variances of growth did not settle", needed="more shafts measured again, with hours, after running"
        )
    return min(found, key=lambda each: each.point.criterion)
