"""EPANET's C engine as a judge and as a peer in speed, called through `owa-epanet`.

EPANET works with g = 32.2 ft/s2, hence heads are converted with 9.80665 on our side only; its tolerance is 1e-6.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from epanet import toolkit as en


@dataclass(frozen=True)
class Pipe:
    """A pipe of an EPANET model; SI."""

    up: str
    down: str
    length: float
    bore: float
    roughness: float
    loss_coefficient: float = 0.0


class EpanetModel:
    """A model whose demands are set and solved again and again.

    Parameters
    ----------
    junctions : mapping of str to float
        Elevation, m.
    reservoirs : mapping of str to float
        Head, m.
    pipes : mapping of str to Pipe
    pumps : mapping of str to (up, down, curve)
        The curve is a list of (L/s, m); one point alone is EPANET's design point.
    valves : mapping of str to (up, down, kind, setting)
        PSV or PRV with its setting in metres of head.
    check_valves : sequence of str
        Pipes that pass one way only.
    kinematic_viscosity : float
        m2/s.
    """

    def __init__(
        self,
        junctions: Mapping[str, float],
        reservoirs: Mapping[str, float],
        pipes: Mapping[str, Pipe],
        pumps: Mapping[str, tuple[str, str, Sequence[tuple[float, float]]]],
        valves: Mapping[str, tuple[str, str, str, float]] | None = None,
        check_valves: Sequence[str] = (),
        kinematic_viscosity: float = 0.6e-6,
    ) -> None:
        rows = ["[JUNCTIONS]", *(f"{name} {height} 0" for name, height in junctions.items())]
        rows += ["[RESERVOIRS]", *(f"{name} {head}" for name, head in reservoirs.items()), "[PIPES]"]
        for name, pipe in pipes.items():
            status = "CV" if name in check_valves else "Open"
            rows.append(
                f"{name} {pipe.up} {pipe.down} {pipe.length!r} {pipe.bore * 1e3!r} {pipe.roughness * 1e3!r} "
                f"{pipe.loss_coefficient!r} {status}"
            )
        rows.append("[PUMPS]")
        rows += [f"{name} {up} {down} HEAD curve_{name}" for name, (up, down, _) in pumps.items()]
        rows.append("[VALVES]")
        rows += [f"{name} {up} {down} 50 {kind} {set_} 0" for name, (up, down, kind, set_) in (valves or {}).items()]
        rows.append("[CURVES]")
        for name, (_, _, curve) in pumps.items():
            rows += [f"curve_{name} {flow!r} {head!r}" for flow, head in curve]
        rows += ["[OPTIONS]", "UNITS LPS", "HEADLOSS D-W", f"VISCOSITY {kinematic_viscosity!r}", "TRIALS 200"]
        rows += ["ACCURACY 0.000001", "[TIMES]", "DURATION 0", "[REPORT]", "STATUS NO", "MESSAGES NO", "[END]"]
        self._folder = tempfile.TemporaryDirectory()
        path = Path(self._folder.name)
        (path / "net.inp").write_text("\n".join(rows), encoding="utf-8")
        self.project = en.createproject()
        en.open(self.project, str(path / "net.inp"), str(path / "net.rpt"), os.devnull)
        en.openH(self.project)
        self.nodes = [en.getnodeid(self.project, i + 1) for i in range(en.getcount(self.project, en.NODECOUNT))]
        self.links = [en.getlinkid(self.project, i + 1) for i in range(en.getcount(self.project, en.LINKCOUNT))]
        self._heads = en.doubleArray(len(self.nodes))
        self._flows = en.doubleArray(len(self.links))

    def node(self, name: str) -> int:
        return int(en.getnodeindex(self.project, name))

    def link(self, name: str) -> int:
        return int(en.getlinkindex(self.project, name))

    def set_demand(self, node: int, flow: float) -> None:
        """Set a demand, m3/s."""
        en.setnodevalue(self.project, node, en.BASEDEMAND, flow * 1e3)

    def set_bore(self, link: int, bore: float) -> None:
        """Set a bore, m."""
        en.setlinkvalue(self.project, link, en.DIAMETER, bore * 1e3)

    def solve(self, *, cold: bool = True) -> None:
        """Solve, from EPANET's own starting flows or from the last ones."""
        en.initH(self.project, en.INITFLOW if cold else en.NOSAVE)
        en.runH(self.project)

    def read(self) -> tuple[Any, Any]:
        """Read all heads (m) and flows (L/s) into EPANET's own arrays."""
        en.getnodevalues(self.project, en.HEAD, self._heads)
        en.getlinkvalues(self.project, en.FLOW, self._flows)
        return self._heads, self._flows

    def results(self) -> tuple[dict[str, float], dict[str, float]]:
        """Return heads (m) and flows (m3/s) by name."""
        heads, flows = self.read()
        return (
            {name: heads[i] for i, name in enumerate(self.nodes)},
            {name: flows[i] * 1e-3 for i, name in enumerate(self.links)},
        )

    def close(self) -> None:
        en.close(self.project)
        self._folder.cleanup()


def looped_model(data: dict[str, Any]) -> EpanetModel:
    """The looped pump net as an EPANET model."""
    return EpanetModel(
        junctions={f"N{name}": 0.0 for name in data["junctions"]},
        reservoirs={f"N{name}": head for name, head in data["fixed_heads_m"].items()},
        pipes={
            tube["name"]: Pipe(
                f"N{tube['from']}",
                f"N{tube['to']}",
                tube["length_m"],
                tube["bore_m"],
                tube["roughness_m"],
                tube["loss_coefficient"],
            )
            for tube in data["tubes"]
        },
        pumps={"pump": ("NT", "N1", [(0.04, 60.0)])},
    )


def as_array(values: Any, size: int) -> Any:
    """Copy an EPANET array."""
    return np.array([values[i] for i in range(size)])
