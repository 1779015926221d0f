"""Coefficients stacked link by link, the kinks of laws in the flow of their chain, and draws carried along chains."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.laws.friction import LINE
from fuelsim.laws.link import Kinks, LinkLaw
from fuelsim.network.solver.assemble import _agree, _mergeable_links, number_of_points, stacked_coefficients
from fuelsim.network.solver.coefficients import chain_kinks, select, stacked
from fuelsim.network.solver.contraction import Chain, Contraction, DeadEnd, carry_draws, contract
from fuelsim.network.solver.topology import Topology, one_way_unreachable_nodes, unsupplied_reducers


def test_numbers_and_lists_are_stacked_with_the_longest_as_points():
    assert stacked([1.0, 2.0]).tolist() == [[1.0], [2.0]]
    assert stacked([1.0, np.float64(2.0), 3]).tolist() == [[1.0], [2.0], [3.0]]
    mixed = stacked([1.0, np.array([2.0, 3.0, 4.0]), np.array([5.0]), np.float64(6.0)])
    assert mixed.tolist() == [[1.0] * 3, [2.0, 3.0, 4.0], [5.0] * 3, [6.0] * 3]


def test_values_that_all_points_share_stay_shared():
    shared, own = np.array([[1.0], [2.0]]), np.arange(6.0).reshape(2, 3)
    assert select(shared, np.array([0, 2])).tolist() == [[1.0], [2.0]]
    assert select(own, np.array([2, 0])).tolist() == [[2.0, 0.0], [5.0, 3.0]]


class Table(NamedTuple):
    flow: Any
    number: Any


def test_tables_have_their_rows_first_and_points_where_one_of_them_has():
    law = LinkLaw(name="table", coefficients=Table, loss=None, tables=("flow",))
    plain = stacked_coefficients(law, [Table([1.0, 2.0], 5.0), Table([3.0, 4.0], 6.0)])
    assert plain.flow.tolist() == [[[1.0], [3.0]], [[2.0], [4.0]]]
    assert plain.number.tolist() == [[5.0], [6.0]]
    varied = stacked_coefficients(law, [Table([1.0, 2.0], 5.0), Table([[3.0, 30.0], [4.0, 40.0]], 6.0)])
    assert varied.flow.tolist() == [[[1.0, 1.0], [3.0, 30.0]], [[2.0, 2.0], [4.0, 40.0]]]


def test_numbers_of_points_agree_or_are_named():
    names = ["first", "second", "third"]
    assert number_of_points([1.0, 2], names.__getitem__) is None
    assert number_of_points([1.0, np.ones(3), np.ones(3)], names.__getitem__) == 3
    assert number_of_points([np.ones(1), 2.0], names.__getitem__) == 1
    with pytest.raises(InputError, match=r"3 values of third do not fit 2 values of second"):
        number_of_points([1.0, np.ones(2), np.ones(3)], names.__getitem__)
    with pytest.raises(InputError, match="one axis"):
        number_of_points([np.ones((2, 2))], names.__getitem__)


def kinked(low, high, margin, *, chains=(0,), signs=None, offset=None, scale=None, plain=False):
    law = SimpleNamespace(kinks=None if plain else lambda c: Kinks(low, high, margin))
    group = SimpleNamespace(
        law=law,
        links=tuple(range(len(chains))),
        chains=np.array(chains),
        signs=None if signs is None else np.array(signs, dtype=float)[:, None],
    )

    def rows(values):
        return None if values is None else np.array(values, dtype=float)[:, None]

    return group, SimpleNamespace(coefficients=None, scale=rows(scale), offset=rows(offset))


def kinks_of(*pairs):
    found = chain_kinks(SimpleNamespace(groups=[group for group, _ in pairs]), [inputs for _, inputs in pairs])
    if found is None:
        return None
    return {
        int(chain): tuple(float(values[row, 0]) for values in (found.low, found.high, found.margin))
        for row, chain in enumerate(found.chains)
    }


def test_a_kink_of_a_link_is_one_of_its_chain_by_what_flows_through_it():
    """The link's flow is (sign Q + offset) scale: solved for the chain's flow Q by hand."""
    assert kinks_of(kinked(0.0, 1.0, 0.1, plain=True)) is None
    assert kinks_of(kinked(-1.0, 4.0, 0.1)) == {0: pytest.approx((-1.0, 4.0, 0.1))}
    assert kinks_of(kinked(-1.0, 4.0, 0.1, offset=[0.5])) == {0: pytest.approx((-1.5, 3.5, 0.1))}
    assert kinks_of(kinked(-1.0, 4.0, 0.1, scale=[2.0])) == {0: pytest.approx((-0.5, 2.0, 0.05))}
    assert kinks_of(kinked(-1.0, 4.0, 0.1, signs=[-1.0])) == {0: pytest.approx((-4.0, 1.0, 0.1))}
    # -Q + 0.5 between -0.5 and 2: Q between -1.5 and 1.
    turned = kinked(-1.0, 4.0, 0.1, signs=[-1.0], offset=[0.5], scale=[2.0])
    assert kinks_of(turned) == {0: pytest.approx((-1.5, 1.0, 0.05))}


def test_of_several_links_in_a_chain_the_narrowest_range_and_margin_hold():
    first, second = kinked(-1.0, 4.0, 0.1), kinked(-2.0, 3.0, 0.05)
    assert kinks_of(first, second) == {0: pytest.approx((-1.0, 3.0, 0.05))}
    apart = kinked(-2.0, np.array([[3.0], [5.0]]), 0.2, chains=(4, 1))
    assert kinks_of(first, apart) == {
        0: pytest.approx((-1.0, 4.0, 0.1)),
        4: pytest.approx((-2.0, 3.0, 0.2)),
        1: pytest.approx((-2.0, 5.0, 0.2)),
    }


def topology(unknown, fixed, links, laws=None, reference=None):
    up, down = zip(*links, strict=True)
    atmosphere = unknown + fixed
    return Topology(unknown, fixed, up, down, reference or (atmosphere,) * len(links), laws or (LINE,) * len(links))


def test_links_in_series_become_a_chain_that_points_as_most_of_them_do():
    """0 and 3 fixed as nodes 4 and 5: 4 -> 0 <- 1 -> 2 -> 5, and 3 beside them as a dead end of 1."""
    shape = topology(4, 2, [(4, 0), (1, 0), (1, 2), (2, 5), (1, 3), (2, 5)])
    found = contract(shape)
    assert found.dead_ends == (DeadEnd(4, 3, 1, 1),)
    assert found.kept == (2,)
    assert {(chain.up, chain.down, chain.links, chain.signs, chain.nodes) for chain in found.chains} == {
        (4, 2, (0, 1, 2), (1, -1, 1), (0, 1)),
        (2, 5, (3,), (1,), ()),
        (2, 5, (5,), (1,), ()),
    }


def test_a_chain_of_which_most_links_point_back_is_turned_round():
    shape = topology(3, 2, [(0, 3), (1, 0), (1, 2), (2, 4), (2, 4)])
    chain = next(chain for chain in contract(shape).chains if len(chain.links) == 3)
    assert (chain.up, chain.down) == (2, 3)
    assert (chain.links, chain.signs, chain.nodes) == ((2, 1, 0), (-1, 1, 1), (1, 0))


def test_draws_are_carried_along_chains_and_out_of_dead_ends():
    """By mass: what is drawn at a node no longer flows behind it, and what a dead end draws its neighbour feeds."""
    shape = topology(4, 2, [(4, 0), (1, 0), (1, 2), (2, 5), (1, 3), (2, 5)])
    carried = carry_draws(contract(shape), shape, {0: 1.0, 1: 10.0, 2: 100.0, 3: 1000.0})
    assert carried.kept == [1111.0], "the draws of the chain are all taken at its end"
    # Link 1 points against the chain, whose flow is less by the draw at 0 there, and by that at 1 with its dead end.
    assert carried.offsets == [None, 1.0, -1011.0, None, 1000.0, None]
    assert carried.stretches[:3] == [0, 1, 2]
    without = carry_draws(contract(shape), shape, {})
    assert without.kept == [None]
    assert without.offsets == [None] * 6
    assert without.stretches == [0] * 6


def test_a_dead_end_that_points_towards_its_neighbour_carries_its_draw_backwards():
    ends = (DeadEnd(0, 1, 0, -1), DeadEnd(1, 0, 2, 1))
    shape = topology(2, 1, [(1, 0), (2, 0)])
    carried = carry_draws(Contraction((), (), ends), shape, {0: 2.0, 1: 3.0})
    assert carried.offsets == [-3.0, 5.0]
    carried = carry_draws(Contraction((), (), ends), shape, {1: 3.0})
    assert carried.offsets == [-3.0, 3.0]
    chain = Chain(2, 0, (1,), (1,), ())
    assert carry_draws(Contraction((0,), (chain,), ends[:1]), shape, {1: 3.0}).kept == [3.0]


ONE_WAY = LinkLaw(name="one way", coefficients=Table, loss=None, one_way=True)


def test_nodes_that_no_flow_reaches_are_those_behind_valves_that_point_the_other_way():
    """2 is fixed: 2 - 0 by a line, 0 -> 1 by a valve."""
    shape = topology(2, 1, [(2, 0), (0, 1)], (LINE, ONE_WAY))
    assert one_way_unreachable_nodes(shape) == []
    assert one_way_unreachable_nodes(shape, towards_fixed=True) == [1]
    turned = topology(2, 1, [(2, 0), (1, 0)], (LINE, ONE_WAY))
    assert one_way_unreachable_nodes(turned) == [1]
    assert one_way_unreachable_nodes(turned, towards_fixed=True) == []


def test_a_reducer_is_supplied_through_lines_and_other_supplied_reducers():
    """3 is fixed: 3 - 0 by a line, 0 -> 1 and 1 -> 2 by reducers; without the line neither is supplied."""
    reducing = LinkLaw(name="reducing", coefficients=Table, loss=None, wide_open=lambda c: c)
    laws = (LINE, reducing, reducing)
    assert unsupplied_reducers(topology(3, 1, [(3, 0), (0, 1), (1, 2)], laws)) == []
    assert unsupplied_reducers(topology(3, 1, [(3, 2), (0, 1), (1, 2)], laws)) == [1, 2]
    assert unsupplied_reducers(topology(3, 1, [(3, 1), (0, 1), (1, 2)], laws)) == [1]
    assert unsupplied_reducers(topology(3, 1, [(3, 0), (0, 1), (1, 2)])) == []


ADDING = LinkLaw(name="adding", coefficients=Table, loss=None, series=("flow",))


def test_links_agree_in_every_coefficient_but_those_that_add_up():
    two = np.array([1.5, 2.5])
    assert _agree(ADDING, Table(1.0, 1.5), Table(9.0, float("1.5")))
    assert _agree(ADDING, Table(1.0, two), Table(np.ones(2), two.copy()))
    assert _agree(ADDING, Table(1.0, two), Table(1.0, two))
    for number in (1.6, two + 1e-9, np.array([1.5, 1.5])):
        assert not _agree(ADDING, Table(1.0, 1.5), Table(1.0, number))
    assert not _agree(ADDING, Table(1.0, two), Table(1.0, two + 1e-9))


def test_links_of_a_run_are_merged_where_no_draw_lies_between_and_they_agree():
    numbers = [1.0, 1.0, 1.0, 2.0, 1.0, 2.0, 3.0]
    plan = SimpleNamespace(mergeable_runs=((0, 1, 2, 3, 5, 6),), topology=SimpleNamespace(laws=(ADDING,) * 7))
    inputs = SimpleNamespace(coefficients=[Table(float(link), number) for link, number in enumerate(numbers)])
    assert _mergeable_links(plan, inputs, [0] * 7) == ((0, 1, 2), (3, 5))
    assert _mergeable_links(plan, inputs, [0, 1, 0, 1, 0, 1, 1]) == ((0, 2), (3, 5))
    assert _mergeable_links(plan, inputs, list(range(7))) == ()
