"""The batch that a network is solved as, without solving it."""

from __future__ import annotations

from typing import Any

import pytest

from fuelsim.network import network
from fuelsim.network.network import Network
from fuelsim.network.solver.equations import Batch


class _Assembled(Exception):
    """Raised in place of a solution."""


def batch_of(net: Network, *given: Any, **named: Any) -> Batch:
    """Return the batch that `solve` makes of a network, a liquid and draws."""
    kept: list[Batch] = []

    def capture(batch: Batch, start: object) -> None:
        kept.append(batch)
        raise _Assembled

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(network, "solve_batch", capture)
        with pytest.raises(_Assembled):
            net.solve(*given, **named)
    return kept[0]
