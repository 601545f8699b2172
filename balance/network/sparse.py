"""The joint system of one large network alone, by scipy's sparse LU."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Added to each diagonal as a part of the largest: keeps isolated joints from a zero pivot.  Newton
# ends where all changes of head are zero, so this does not move the answer.
DIAGONAL_FLOOR = 1e-14


class SparseSystem:
    """Places of the conductances in a compressed matrix, made once per topology."""

    def __init__(self, joints: int, between: list[tuple[int, int]]) -> None:
        """Plans a matrix with an entry for each ordered pair of joints in `between`."""
        self.joints = joints
        rows = np.array([i for i, _ in between], dtype=np.intp)
        columns = np.array([j for _, j in between], dtype=np.intp)
        every = np.arange(joints)
        keys = np.concatenate([columns, every]) * joints + np.concatenate([rows, every])
        places, self._into = np.unique(keys, return_inverse=True)
        self._from_rows = rows
        self._indices = (places % joints).astype(np.int32)
        counts = np.bincount(places // joints, minlength=joints)
        self._pointers = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)

    def factor(self, conductances: Floats, ground: Floats) -> SparseFactors:
        """Factors of the matrix with conductances w_ij in the order of `between` [m²/s]."""
        from scipy.sparse import csc_matrix
        from scipy.sparse.linalg import splu

        diagonal = ground + np.bincount(
            self._from_rows, weights=conductances, minlength=self.joints
        )
        diagonal += DIAGONAL_FLOOR * max(float(np.max(np.abs(diagonal))), 1e-300)
        data = np.bincount(
            self._into,
            weights=np.concatenate([-conductances, diagonal]),
            minlength=len(self._indices),
        )
        matrix = csc_matrix((data, self._indices, self._pointers), shape=(self.joints, self.joints))
        return SparseFactors(
            splu(
                matrix,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        )


@dataclass(frozen=True)
class SparseFactors:
    """An eliminated joint system, ready for right-hand sides."""

    lu: Any

    def solve(self, rhs: Floats) -> Floats:
        """Heads (joints, S) for right-hand sides of that shape."""
        heads: Floats = self.lu.solve(np.ascontiguousarray(rhs))
        return heads
