"""Fresh orders of pairings: found where there is one, proven where there is none."""

from __future__ import annotations

from itertools import combinations, pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.fresh import NoOrder, Order, fresh_order, longest_stay
from bridge.errors import PlanError
from tests import oracle

FOUR = ("band", "hand drum", "bells", "keys")


def one_apart(one, other) -> bool:
    one, other = set(one), set(other)
    return one != other and len(one - other) <= 1 and len(other - one) <= 1


def check(found: Order, sections: int, pairings: int) -> None:
    """All that an order promises, whatever it is."""
    order = found.pairings
    assert len(order) == sections
    assert all(one_apart(one, other) for one, other in pairwise(order))
    rounds = [order[start : start + pairings] for start in range(0, sections, pairings)]
    assert all(len(set(each)) == len(each) for each in rounds)
    assert longest_stay(order) == found.longest_stay


@pytest.mark.parametrize("layers", range(2, 13))
@pytest.mark.parametrize("more", [-1, 0, 2])
def test_any_number_of_layers_has_an_order_of_all_its_pairs(layers, more):
    names = [f"layer {number}" for number in range(layers)]
    pairs = layers * (layers - 1) // 2
    sections = pairs + more
    if sections < 1:
        return
    found = fresh_order(names, sections=sections)
    if pairs == 1 < sections:
        assert isinstance(found, NoOrder)
        return
    assert isinstance(found, Order)
    assert found.proven
    check(found, sections, pairs)


@pytest.mark.parametrize("layers", range(3, 10))
def test_nobody_stays_for_three_just_where_euler_walks(layers):
    networkx = oracle("networkx")
    walks = networkx.has_eulerian_path(networkx.complete_graph(layers))
    found = fresh_order([str(n) for n in range(layers)], sections=layers * (layers - 1) // 2)
    assert isinstance(found, Order)
    assert (found.longest_stay == 2) == walks


kept_pairs = st.sets(st.sampled_from([frozenset(pair) for pair in combinations(FOUR, 2)]))


@settings(max_examples=60, deadline=None)
@given(kept_pairs, st.integers(1, 9))
def test_orders_of_four_layers_agree_with_trying_all(left_out, sections):
    found = fresh_order(FOUR, sections=sections, without=left_out)
    nodes = [pair for pair in combinations(FOUR, 2) if frozenset(pair) not in left_out]
    different = min(sections, len(nodes))
    stays = []
    for order in permutations(nodes, different):
        whole = [order[section % different] for section in range(sections)] if order else []
        if whole and all(one_apart(one, other) for one, other in pairwise(whole)):
            stays.append(longest_stay(whole))
    if not stays:
        assert isinstance(found, NoOrder)
        assert found.proven
        return
    assert isinstance(found, Order)
    check(found, sections, len(nodes))
    assert found.proven
    assert found.longest_stay == min(stays)


@settings(max_examples=60, deadline=None)
@given(st.sets(st.sampled_from(["ab", "ac", "bc", "abc"])), st.integers(1, 9))
def test_orders_of_pairs_and_trios_agree_with_trying_all(left_out, sections):
    found = fresh_order("abc", sections=sections, sizes=(2, 3), without=left_out)
    nodes = [names for names in ("ab", "ac", "bc", "abc") if names not in left_out]
    stays = []
    for order in permutations(nodes, min(sections, len(nodes))):
        whole = [order[section % len(order)] for section in range(sections)] if order else []
        if whole and all(one_apart(one, other) for one, other in pairwise(whole)):
            stays.append(longest_stay(whole))
    if stays:
        assert isinstance(found, Order)
        assert (found.longest_stay, found.proven) == (min(stays), True)
    else:
        assert isinstance(found, NoOrder)


@settings(max_examples=60, deadline=None)
@given(st.sets(st.sampled_from([frozenset(pair) for pair in combinations("abcde", 2)]), max_size=7))
def test_islands_are_those_that_networkx_finds(left_out):
    networkx = oracle("networkx")
    nodes = [pair for pair in combinations("abcde", 2) if frozenset(pair) not in left_out]
    graph = networkx.Graph()
    graph.add_nodes_from(nodes)
    graph.add_edges_from(pair for pair in combinations(nodes, 2) if one_apart(*pair))
    found = fresh_order("abcde", sections=len(nodes), without=left_out)
    if not networkx.is_connected(graph):
        assert isinstance(found, NoOrder)
        assert "never" in found.why
    elif isinstance(found, Order):
        check(found, len(nodes), len(nodes))


def test_the_first_pairing_can_be_named():
    found = fresh_order(FOUR, sections=6, first=("keys", "bells"))
    assert isinstance(found, Order)
    assert found.pairings[0] == ("bells", "keys")


def test_pairs_and_trios_may_mix_and_one_enters_or_leaves():
    found = fresh_order(("a", "b", "c"), sections=4, sizes=(2, 3))
    assert isinstance(found, Order)
    check(found, 4, 4)
    assert ("a", "b", "c") in found.pairings


def test_what_cannot_be_says_which_pairing_is_out_of_reach():
    found = fresh_order("abcd", sections=2, without=["ac", "ad", "bc", "bd"])
    assert found == NoOrder(
        why="from a + b one layer at a time reaches 1 of the 2 pairings, never c + d", proven=True
    )


def test_one_pairing_cannot_fill_two_sections():
    found = fresh_order("ab", sections=2)
    assert isinstance(found, NoOrder)
    assert "one pairing only, a + b" in found.why
    assert fresh_order("ab", sections=1) == Order(pairings=(("a", "b"),), longest_stay=1, proven=True)


def test_an_order_that_does_not_close_is_proven_not_to():
    # ab, bc, cd, de in a row, but never round.
    tail = fresh_order("abcde", sections=9, without=["ac", "ad", "ae", "bd", "be", "ce"])
    assert isinstance(tail, NoOrder)
    assert tail.proven
    assert "played again from its start" in tail.why


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"sections": 0}, "1 to 1024 sections"),
        ({"sections": 2, "sizes": (4,)}, "cannot be made of 3 layers"),
        ({"sections": 2, "without": [("a", "z")]}, "there is no layer 'z'"),
        ({"sections": 2, "without": [("a", "b")], "first": ("a", "b")}, "not among the pairings"),
    ],
)
def test_what_is_no_question_is_refused(more, said):
    with pytest.raises(PlanError, match=said):
        fresh_order(("a", "b", "c"), **more)


def test_more_pairings_than_can_be_ordered_are_refused():
    with pytest.raises(PlanError, match="at most 128"):
        fresh_order([str(n) for n in range(20)], sections=3)
