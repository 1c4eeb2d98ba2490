"""Minimum cuts and cut sets of seeded random graphs, by networkx.

Writes graphs.csv (the graphs) and expected.csv (what is expected of each). Run: python3 reference.py
"""

import csv
import itertools
import random

import networkx

GRAPHS = 60


def paths(nodes, edges, gone=()):
    """Whether the load still has a way to the source."""
    graph = networkx.DiGraph()
    graph.add_nodes_from(range(nodes))
    for at, (a, b, kind) in enumerate(edges):
        if at not in gone:
            graph.add_edge(a, b)
            if kind == "link":
                graph.add_edge(b, a)
    return networkx.has_path(graph, 0, nodes - 1)


def minimum(nodes, edges):
    """Fewest elements that part source and load: each element is an arc of capacity 1 between two nodes of its own."""
    graph = networkx.DiGraph()
    graph.add_nodes_from([0, nodes - 1])
    for at, (a, b, kind) in enumerate(edges):
        graph.add_edge(("in", at), ("out", at), capacity=1)
        for one, other in [(a, b)] + ([(b, a)] if kind == "link" else []):
            graph.add_edge(one, ("in", at))
            graph.add_edge(("out", at), other)
    return networkx.minimum_cut_value(graph, 0, nodes - 1)


def main():
    dice = random.Random(20261126)
    with open("graphs.csv", "w", newline="") as graphs, open("expected.csv", "w", newline="") as expected:
        graphs, expected = csv.writer(graphs, lineterminator="\n"), csv.writer(expected, lineterminator="\n")
        graphs.writerow(["graph", "edge", "from", "to", "kind"])
        expected.writerow(["graph", "nodes", "minimum_cut", "singles", "pairs"])
        for graph in range(GRAPHS):
            nodes = dice.randint(3, 8)
            count = dice.randint(nodes - 1, 2 * nodes + 2)
            edges = []
            while len(edges) < count:
                a, b = dice.randrange(nodes), dice.randrange(nodes)
                if a != b:
                    edges.append((a, b, "diode" if dice.random() < 0.3 else "link"))
            singles, pairs = [], []
            if paths(nodes, edges):
                singles = [at for at in range(count) if not paths(nodes, edges, (at,))]
                rest = [at for at in range(count) if at not in singles]
                pairs = [pair for pair in itertools.combinations(rest, 2) if not paths(nodes, edges, pair)]
            for at, (a, b, kind) in enumerate(edges):
                graphs.writerow([graph, f"e{at:02}", a, b, kind])
            expected.writerow(
                [graph, nodes, minimum(nodes, edges), " ".join(f"e{at:02}" for at in singles), " ".join(f"e{a:02}+e{b:02}" for a, b in pairs)]
            )


if __name__ == "__main__":
    main()
