"""Least squares of clustered values, with a standard error that holds for few clusters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray


@dataclass(frozen=True)
class Cluster:
    """The k values of one cluster: design (k, p), value (k,), covariance (k, k) as the model has it."""

    design: FloatArray
    value: FloatArray
    covariance: FloatArray


@dataclass(frozen=True)
class Clustered:
    """The last coefficient: estimate, standard error, degrees of freedom.

    model_se: the standard error if the clusters' covariances are as given. without: (clusters,) each left out in turn.
    """

    value: float
    se: float
    freedom: float
    model_se: float
    without: FloatArray


def clustered(clusters: Sequence[Cluster]) -> Clustered:
    """Generalised least squares with the cluster-robust standard error CR2.

    Weights are the inverse of each cluster's model covariance. The standard error takes the residuals of each cluster
    as they are, adjusted so that it is unbiased where the model holds, and stays near right where it does not; the
    degrees of freedom are Satterthwaite's (Bell & McCaffrey 2002; Pustejovsky & Tipton 2018, both from memory).
    Leaving a cluster out keeps the covariances of the others. Time and memory are linear in the clusters.

    Args:
        clusters: two at least, together of full rank.

    Returns:
        for the last column of the design; degrees of freedom NaN where one cluster alone determines it.
    """
    weighted = [np.linalg.solve(one.covariance, one.design) for one in clusters]
    info = np.stack([w.T @ one.design for w, one in zip(weighted, clusters, strict=True)])
    score = np.stack([w.T @ one.value for w, one in zip(weighted, clusters, strict=True)])
    bread = np.linalg.inv(info.sum(axis=0))
    beta = bread @ score.sum(axis=0)
    last = bread[:, -1]
    meat, own, pulled = [], [], []
    for w, one in zip(weighted, clusters, strict=True):
        adjusted = _adjustment(one, bread) @ (w @ last)
        meat.append(float(adjusted @ (one.value - one.design @ beta)))
        own.append(float(adjusted @ one.covariance @ adjusted))
        pulled.append(one.design.T @ adjusted)
    variance = float(np.sum(np.square(meat)))
    # Covariances of the clusters' parts, own on the diagonal less pulled' bread pulled everywhere: by its own low rank.
    d, u = np.array(own), np.stack(pulled)
    of_self = np.einsum("ki,ij,kj->k", u, bread, u)
    cross = u.T @ u @ bread
    total = float(np.sum(d**2) - 2.0 * np.sum(d * of_self) + np.trace(cross @ cross))
    freedom = float(np.sum(d - of_self)) ** 2 / total if total > 0 else float("nan")
    return Clustered(
        float(beta[-1]), float(np.sqrt(variance)), freedom, float(np.sqrt(last[-1])), _without_each(info, score)
    )


def _without_each(info: FloatArray, score: FloatArray) -> FloatArray:
    """The last coefficient with each cluster left out; NaN where the rest does not determine it."""
    left, right = info.sum(axis=0) - info, score.sum(axis=0) - score
    usable = np.linalg.cond(left) < 1e12
    found = np.full(len(info), np.nan)
    if usable.any():
        found[usable] = np.linalg.solve(left[usable], right[usable][..., None])[:, -1, 0]
    return found


def _adjustment(cluster: Cluster, bread: FloatArray) -> FloatArray:
    """(k, k) matrix by which CR2 corrects a cluster's residuals for having been fitted."""
    root = np.linalg.cholesky(cluster.covariance).T
    left_over = root @ (cluster.covariance - cluster.design @ bread @ cluster.design.T) @ root.T
    values, vectors = np.linalg.eigh(left_over)
    kept = values > 1e-10 * max(float(values[-1]), 1e-300)
    inverse_root = (vectors[:, kept] / np.sqrt(values[kept])) @ vectors[:, kept].T
    return np.asarray(root.T @ inverse_root @ root)
