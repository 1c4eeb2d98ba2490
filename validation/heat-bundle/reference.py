"""Temperatures of bundled wires by finite elements on the whole section. The problem is stated in README.md.

    python reference.py check          the solution against closed forms
    python reference.py                every case on the grids of GRIDS: writes expected.csv, rises.csv and grids.csv
    python reference.py equal-7 0 1    one section on the given grids, printed only

Linear triangles in every jacket and in all of the gas, graded towards the contacts; radiosity between the edges of the jackets with
views that are exact from each Gauss point; Newton until the heat balances. Grid L halves every spacing of grid L - 1.
"""

import csv
import sys
import time
from collections import defaultdict

import numpy as np
import scipy.sparse as sp
import triangle
from scipy.optimize import brentq
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

SIGMA = 5.670374419e-8  # W/(m2 K4), exact constants of 2019
KELVIN = 273.15
MM = 1e-3
TOUCH = 0.01  # largest gap of a contact, of the smaller radius
PATCH = 0.05  # half-width of a contact, of the smaller radius
NEAR = 0.30  # largest gap that is meshed as a strip, of the smaller radius
GRIDS = {"equal-1": (0, 1, 2), "equal-7": (0, 1, 2), "equal-19": (0, 1), "equal-37": (0, 1), "mixed-14": (0, 1)}
REACH = 0.40  # half-length of a strip, of the smaller radius


def turn(angle):
    return np.array([np.cos(angle), np.sin(angle)])


def hull(x, b):
    """Arcs of the convex hull of circles, counter-clockwise: (circle, first angle, last angle). Arcs may have no length."""
    if len(b) == 1:
        return [(0, 0.0, 2 * np.pi)]
    breaks = {0.0}
    for i in range(len(b)):
        for j in range(len(b)):
            d = x[j] - x[i]
            far = np.hypot(*d)
            if i != j and abs(b[i] - b[j]) < far:
                breaks.add(float((np.arctan2(d[1], d[0]) + np.arccos((b[i] - b[j]) / far)) % (2 * np.pi)))
    cuts = [0.0]
    for angle in sorted(breaks):
        if angle - cuts[-1] > 1e-7:
            cuts.append(angle)
    arcs = []
    for k, start in enumerate(cuts):
        end = cuts[k + 1] if k + 1 < len(cuts) else 2 * np.pi
        support = x @ turn(0.5 * (start + end)) + b
        i = int(np.argmax(support))
        if arcs and arcs[-1][0] == i:
            arcs[-1] = (i, arcs[-1][1], end)
            continue
        if arcs:  # circles that only touch the line from the last arc to this one
            reach = x @ turn(start) + b
            along = x @ turn(start + np.pi / 2)
            last = arcs[-1][0]
            touching = np.flatnonzero((reach > reach.max() - 1e-5 * b) & (along > along[last]) & (along < along[i]))
            arcs += [(int(c), start, start) for c in sorted(touching, key=lambda c: along[c]) if c not in (i, last)]
        arcs.append((i, start, end))
    if arcs[0][0] == arcs[-1][0]:  # across angle 0
        i, start, _ = arcs.pop()
        arcs[0] = (i, start - 2 * np.pi, arcs[0][2])
    return arcs


class Grid:
    """Mesh, conduction and views of one section: all that no case changes."""

    def __init__(self, circles, level):
        self.x, self.a, self.b = circles[:, :2], circles[:, 2], circles[:, 3]
        self.n, self.fine = len(circles), 2**level
        self.points, self.tri, self.gas = [], [], []  # nodes, triangles of jackets, triangles of gas
        self.contacts, self.strips = [], []  # (i, j, w), columns of nodes across a gas strip
        self.film_lines = []  # edges of gas on the straight lines of the hull
        self.hull = hull(self.x, self.b)
        self.place_nodes()
        self.mesh_jackets()
        self.mesh_gas()
        self.views()
        self.number()

    # ── nodes ──
    def node(self, p):
        self.points.append((float(p[0]), float(p[1])))
        return len(self.points) - 1

    def on(self, i, angle):
        """The node of circle i at an angle, made at its first use."""
        ring = self.rings[i]
        angle = float(angle) % (2 * np.pi)
        key = round(angle * 1e7) % round(2 * np.pi * 1e7)
        for near in (key, key - 1, key + 1):
            if near in ring:
                return ring[near][1]
        ring[key] = (angle, self.node(self.x[i] + self.b[i] * turn(angle)))
        return ring[key][1]

    def offsets(self, least, largest):
        """Distances from the line of centres: geometric from `least` on."""
        steps = max(2, round(np.log(largest / least) / np.log(1.25) * self.fine))
        return least * (largest / least) ** (np.arange(steps + 1) / steps)

    def column(self, first, last):
        """Nodes from one surface of a strip to the other, layers between."""
        p, q = np.array(self.points[first]), np.array(self.points[last])
        inner = [self.node(p + (q - p) * k / self.fine) for k in range(1, self.fine)]
        return [first, *inner, last]

    def place_nodes(self):
        self.rings = [{} for _ in range(self.n)]
        self.patch_edges = []  # (node of i, next node of i, node of j, next node of j, length across)
        self.bars = []  # what closes a contact to sight
        self.patches = [[] for _ in range(self.n)]  # (angle, half angle) on each circle
        for i in range(self.n):
            for j in range(i):
                d = self.x[j] - self.x[i]
                least = min(self.b[i], self.b[j])
                gap = np.hypot(*d) - self.b[i] - self.b[j]
                if gap > NEAR * least:
                    continue
                angle = np.arctan2(d[1], d[0])
                pair = lambda s: (self.on(i, angle + np.arcsin(s / self.b[i])), self.on(j, angle + np.pi - np.arcsin(s / self.b[j])))
                if gap <= TOUCH * least:
                    w = PATCH * least
                    s = np.linspace(-w, w, 8 * self.fine + 1)
                    facing = [pair(v) for v in s]
                    for k in range(len(s) - 1):
                        self.patch_edges.append((facing[k][0], facing[k + 1][0], facing[k][1], facing[k + 1][1], s[k + 1] - s[k]))
                    self.contacts.append((i, j, w))
                    self.patches[i].append((angle, np.arcsin(w / self.b[i])))
                    self.patches[j].append((angle + np.pi, np.arcsin(w / self.b[j])))
                    self.bars.append((self.x[i] + self.b[i] * turn(angle), self.x[j] - self.b[j] * turn(angle)))
                    for sign in (1, -1):
                        self.strips.append([self.column(*pair(sign * v)) for v in self.offsets(w, REACH * least)])
                else:
                    s = self.offsets(0.25 * np.sqrt(gap * least), REACH * least)
                    s = np.concatenate([-s[::-1], np.linspace(-s[0], s[0], 2 * self.fine + 1)[1:-1], s])
                    self.strips.append([self.column(*pair(v)) for v in s])
        self.lines = []  # straight lines of the hull: their nodes
        for k, (i, start, end) in enumerate(self.hull if self.n > 1 else []):
            j, other, _ = self.hull[(k + 1) % len(self.hull)]
            first, last = self.x[i] + self.b[i] * turn(end), self.x[j] + self.b[j] * turn(other)
            long = np.hypot(*(last - first))
            along = (last - first) / long
            ends = []
            for c, at, sign in ((i, end, 1), (j, other, -1)):
                s = self.offsets(0.05 * self.b[c], REACH * min(self.b[i], self.b[j]))
                columns = [[self.on(c, at)]]
                foot = first if sign == 1 else last
                for v in s:
                    columns.append(self.column(self.on(c, at + sign * np.arcsin(v / self.b[c])), self.node(foot + sign * v * along)))
                self.strips.append(columns)
                ends.append([column[-1] for column in columns])
            free = np.linalg.norm(np.array(self.points[ends[1][-1]]) - np.array(self.points[ends[0][-1]]))
            parts = max(1, int(np.ceil(free / (0.1 * min(self.b[i], self.b[j])) * self.fine)))
            p, q = np.array(self.points[ends[0][-1]]), np.array(self.points[ends[1][-1]])
            middle = [self.node(p + (q - p) * m / parts) for m in range(1, parts)]
            self.lines.append((ends[0], middle, ends[1][::-1]))
            nodes = ends[0] + middle + ends[1][::-1]
            self.film_lines += list(zip(nodes[:-1], nodes[1:]))
        # What strips and patches bound, then the rest of the rings; in order.
        self.covered = {frozenset(edge[:2]) for edge in self.patch_edges} | {frozenset(edge[2:4]) for edge in self.patch_edges}
        for columns in self.strips:
            for one, two in zip(columns[:-1], columns[1:]):
                self.covered |= {frozenset((one[0], two[0])), frozenset((one[-1], two[-1]))}
        self.ring_nodes, self.ring_angles = [], []
        for i in range(self.n):
            for k, (c, start, end) in enumerate(self.hull):
                if c == i:
                    self.on(i, start), self.on(i, end)
            ring = sorted(self.rings[i].values()) or [(0.0, self.on(i, 0.0))]
            for (first, p), (last, q) in zip(ring, ring[1:] + [(ring[0][0] + 2 * np.pi, ring[0][1])]):
                if frozenset((p, q)) in self.covered:
                    continue
                parts = int(np.ceil((last - first) / 0.1 * self.fine - 1e-9))
                for m in range(1, parts):
                    self.on(i, first + (last - first) * m / parts)
            ring = sorted(self.rings[i].values())
            self.ring_angles.append(np.array([v[0] for v in ring]))
            self.ring_nodes.append(np.array([v[1] for v in ring]))

    # ── meshes ──
    def take(self, mesh, known, into):
        """Takes a triangulation over; its first nodes are `known`."""
        vertices = mesh["vertices"]
        names = np.array(list(known) + [self.node(p) for p in vertices[len(known) :]])
        into.append(names[mesh["triangles"]])
        return names

    def mesh_jackets(self):
        self.conductor = []  # nodes on each conductor
        for i in range(self.n):
            ring = self.ring_nodes[i]
            wall = self.b[i] - self.a[i]
            parts = int(np.ceil(2 * np.pi * self.a[i] / (wall / 5) * self.fine))
            inner = self.x[i] + self.a[i] * np.stack([turn(2 * np.pi * k / parts) for k in range(parts)])
            outer = np.array([self.points[k] for k in ring])
            loop = lambda first, many: [(first + k, first + (k + 1) % many) for k in range(many)]
            inner_nodes = [self.node(p) for p in inner]
            mesh = triangle.triangulate(
                {
                    "vertices": np.vstack([outer, inner]),
                    "segments": loop(0, len(ring)) + loop(len(ring), parts),
                    "holes": [self.x[i]],
                },
                f"pq32YYa{0.5 * (wall / 4 / self.fine) ** 2:.12f}",
            )
            self.take(mesh, [*ring, *inner_nodes], self.tri)
            self.conductor.append(np.array(inner_nodes))

    def mesh_gas(self):
        if self.n == 1:
            return
        for columns in self.strips:
            cells = []
            for one, two in zip(columns[:-1], columns[1:]):
                if len(one) == 1:
                    cells += [(one[0], two[k], two[k + 1]) for k in range(len(two) - 1)]
                    continue
                for k in range(len(one) - 1):
                    cells += [(one[k], two[k], two[k + 1]), (one[k], two[k + 1], one[k + 1])]
            self.gas.append(np.array(cells))
        # The rest: bounded by arcs outside the strips, by the ends of the strips and by the free parts of the lines.
        on_hull = self.edges_on_hull()
        at_patch = {int(k) for edge in self.patch_edges for k in edge[:4]}
        segments = []
        for i in range(self.n):
            ring = self.ring_nodes[i]
            pairs = zip(ring, np.roll(ring, -1), on_hull[i])
            segments += [(p, q) for p, q, outer in pairs if not outer and frozenset((p, q)) not in self.covered]
        for columns in self.strips:
            for end in (columns[0], columns[-1]):
                if len(end) > 1 and not {end[0], end[-1]} <= at_patch:
                    segments += list(zip(end[:-1], end[1:]))
        for first, middle, last in self.lines:
            nodes = [first[-1], *middle, last[0]]
            segments += list(zip(nodes[:-1], nodes[1:]))
        for piece in connected_pieces(segments):
            nodes = sorted({int(k) for s in piece for k in s})
            number = {k: m for m, k in enumerate(nodes)}
            at = np.array([self.points[k] for k in nodes])
            rim = [(number[int(p)], number[int(q)]) for p, q in piece]
            mesh = triangle.triangulate({"vertices": at, "segments": rim}, f"pq32YYa{0.5 * (0.1 * self.b.min() / self.fine) ** 2:.12f}")
            keep = self.in_gas(mesh["vertices"][mesh["triangles"]].mean(axis=1))
            mesh["triangles"] = mesh["triangles"][keep]
            self.take(mesh, nodes, self.gas)

    def in_gas(self, p):
        """Whether points lie outside all jackets: the pieces hold no strip and stop at the hull."""
        return (np.hypot(p[:, None, 0] - self.x[None, :, 0], p[:, None, 1] - self.x[None, :, 1]) > self.b * (1 - 1e-4)).all(axis=1)

    def edges_on_hull(self):
        result = []
        for i in range(self.n):
            angles = self.ring_angles[i]
            middle = angles + 0.5 * ((np.roll(angles, -1) - angles) % (2 * np.pi) if len(angles) > 1 else 0)
            on = np.zeros(len(angles), bool)
            for c, start, end in self.hull:
                if c == i:
                    on |= (middle - start) % (2 * np.pi) < (end - start)
            result.append(on)
        return result

    # ── radiation ──
    def views(self):
        """The exchange between the edges of the jackets: net flux = R (E − E of the surroundings), W/m for E in W/m2, less emittance."""
        on_hull = self.edges_on_hull()
        edges, owner, outer, first, span = [], [], [], [], []
        self.edge_of = [np.full(len(r), -1) for r in self.ring_nodes]
        for i in range(self.n):
            ring, angles = self.ring_nodes[i], self.ring_angles[i]
            for k in range(len(ring)):
                step = (angles[(k + 1) % len(ring)] - angles[k]) % (2 * np.pi)
                middle = angles[k] + 0.5 * step
                if any(abs((middle - at + np.pi) % (2 * np.pi) - np.pi) < half for at, half in self.patches[i]):
                    continue
                self.edge_of[i][k] = len(edges)
                edges.append((ring[k], ring[(k + 1) % len(ring)]))
                owner.append(i), outer.append(on_hull[i][k]), first.append(angles[k]), span.append(step)
        self.edges, self.owner, self.outer = np.array(edges), np.array(owner), np.array(outer)
        self.length = np.array(span) * self.b[self.owner]
        rows, cols, values = [], [], []
        self.window = np.zeros(len(edges))
        gauss = 0.5 * (1 + np.array([-1, 1]) / np.sqrt(3))
        for e in range(len(edges)):
            if self.outer[e]:
                self.window[e] += self.length[e]
                continue
            for t in gauss:
                seen, free = self.sight(owner[e], first[e] + t * span[e])
                self.window[e] += 0.5 * free * self.length[e]
                for f, share in seen.items():
                    rows.append(e), cols.append(f), values.append(0.5 * share * self.length[e])
        s = sp.csr_matrix((values, (rows, cols)), shape=(len(edges),) * 2)
        self.sight_lines = (0.5 * (s + s.T)).tocsr()

    def sight(self, i, angle):
        """What a point of circle i sees: the share of each edge, and the share of the surroundings."""
        normal = turn(angle)
        p = self.x[i] + self.b[i] * normal
        along = np.array([-normal[1], normal[0]])
        local = lambda v: np.arctan2(v @ along, v @ normal)  # angle from the normal
        others = np.array([c for c in range(self.n) if c != i])
        if len(others) == 0:
            return {}, 1.0
        d = self.x[others] - p
        far = np.hypot(d[:, 0], d[:, 1])
        centre, half = local(d), np.arcsin(np.minimum(self.b[others] / far, 1.0))
        bars = np.array(self.bars).reshape(-1, 2, 2) - p
        cuts = np.concatenate([centre - half, centre + half, local(bars.reshape(-1, 2)), [-np.pi / 2, np.pi / 2]])
        cuts = np.unique(np.clip(cuts, -np.pi / 2, np.pi / 2))
        middle = 0.5 * (cuts[1:] + cuts[:-1])
        ray = np.cos(middle)[:, None] * normal + np.sin(middle)[:, None] * along
        run = ray @ d.T
        root = self.b[others] ** 2 - (far**2 - run**2)
        hit = np.where((root > 0) & (run > 0), run - np.sqrt(np.maximum(root, 0)), np.inf)
        nearest = hit.argmin(axis=1)
        reach = hit[np.arange(len(middle)), nearest]
        blocked = np.zeros(len(middle), bool)
        if len(bars):
            s, e = bars[:, 0], bars[:, 1] - bars[:, 0]
            cross = ray[:, None, 0] * e[None, :, 1] - ray[:, None, 1] * e[None, :, 0]
            safe = np.where(abs(cross) > 1e-15, cross, np.inf)
            t = (s[:, 0] * e[:, 1] - s[:, 1] * e[:, 0])[None, :] / safe
            u = (s[None, :, 0] * ray[:, None, 1] - s[None, :, 1] * ray[:, None, 0]) / safe
            blocked = ((t > 0) & (u >= 0) & (u <= 1) & (t < reach[:, None])).any(axis=1)
        target = np.where(blocked, -2, np.where(np.isfinite(reach), nearest, -1))
        seen, free = defaultdict(float), 0.0
        k = 0
        while k < len(middle):
            m = k
            while m + 1 < len(middle) and target[m + 1] == target[k]:
                m += 1
            low, high = cuts[k], cuts[m + 1]
            k, at = m + 1, k
            if target[at] == -2:
                continue
            if target[at] == -1:
                free += 0.5 * (np.sin(high) - np.sin(low))
                continue
            # Angles on the circle that is hit, at the two ends of the interval: it is swept backwards.
            c = others[target[at]]
            ends = []
            for value in (high, low):
                way = np.cos(value) * normal + np.sin(value) * along
                v = self.x[c] - p
                q = way @ v
                t = q - np.sqrt(max(self.b[c] ** 2 - (v @ v - q * q), 0.0))
                r = t * way - v
                ends.append(np.arctan2(r[1], r[0]))
            ring = self.ring_angles[c]
            sweep = (ends[1] - ends[0]) % (2 * np.pi)
            if sweep > np.pi * 1.01:
                continue  # rounding of an empty interval
            start = ends[0] % (2 * np.pi)
            inside = ring[np.logical_and((ring - start) % (2 * np.pi) > 0, (ring - start) % (2 * np.pi) < sweep)]
            inside = inside[np.argsort((inside - start) % (2 * np.pi))]
            bounds = start + np.concatenate([[0.0], (inside - start) % (2 * np.pi), [sweep]])
            at_bounds = self.x[c] + self.b[c] * np.stack([np.cos(bounds), np.sin(bounds)], axis=1) - p
            sine = np.sin(local(at_bounds))
            sine[0], sine[-1] = np.sin(high), np.sin(low)
            share = 0.5 * (sine[:-1] - sine[1:])
            names = self.edge_of[c][(np.searchsorted(ring, (0.5 * (bounds[1:] + bounds[:-1])) % (2 * np.pi), side="right") - 1) % len(ring)]
            for f, value in zip(names, share):
                if f >= 0:
                    seen[int(f)] += value
        return seen, free

    def exchange(self, emittance):
        """R as a sparse matrix, one dense block for each void."""
        rows, cols, values = [], [], []
        outer = np.flatnonzero(self.outer)
        rows.append(outer), cols.append(outer), values.append(emittance * self.length[outer])
        inner = np.flatnonzero(~self.outer)
        if len(inner):
            many, label = connected_components(self.sight_lines[inner][:, inner], directed=False)
            order = np.argsort(label, kind="stable")
            for block in np.split(inner[order], np.cumsum(np.bincount(label, minlength=many))[:-1]):
                s = self.sight_lines[block][:, block].toarray()
                d = self.length[block] * emittance / (1 - emittance)
                m = np.diag(d + s.sum(axis=1) + self.window[block]) - s
                r = np.diag(d) - d[:, None] * np.linalg.inv(m) * d[None, :]
                rows.append(np.repeat(block, len(block))), cols.append(np.tile(block, len(block))), values.append(r.ravel())
        size = len(self.edges)
        return sp.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=(size, size))

    # ── conduction ──
    def number(self):
        """Unknowns: the first `n` are the conductors, whose nodes share one; then every other node."""
        self.name = np.full(len(self.points), -1)
        for i, nodes in enumerate(self.conductor):
            self.name[nodes] = i
        free = self.name < 0
        self.size = self.n + int(free.sum())
        self.name[free] = np.arange(self.n, self.size)
        self.made = {}

    def once(self, key, make):
        """A matrix that several cases share."""
        if key not in self.made:
            self.made[key] = make()
        return self.made[key]

    def stiffness(self, groups):
        """Conduction through linear triangles of conductivity 1."""
        cells = np.concatenate(groups)
        p = np.array(self.points)[cells]
        edge = np.stack([p[:, 2] - p[:, 1], p[:, 0] - p[:, 2], p[:, 1] - p[:, 0]], axis=1)
        area = 0.5 * abs(edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0])
        local = np.einsum("eik,ejk->eij", edge, edge) / (4 * area)[:, None, None]
        name = self.name[cells]
        return sp.csr_matrix((local.ravel(), (np.repeat(name, 3, axis=1).ravel(), np.tile(name, (1, 3)).ravel())), shape=(self.size,) * 2)

    def across(self, edges, weights, facing=None):
        """Conductance `weights` (W/K per edge) from edges to the outside, or to the edges that face them."""
        ends = [(self.name[edges[:, 0]], self.name[edges[:, 1]])]
        if facing is not None:
            ends.append((self.name[facing[:, 0]], self.name[facing[:, 1]]))
        rows, cols, values = [], [], []
        for m, left in enumerate(ends):
            for k, right in enumerate(ends):
                for u in range(2):
                    for v in range(2):
                        rows.append(left[u]), cols.append(right[v])
                        values.append((1 if m == k else -1) * (1 / 3 if u == v else 1 / 6) * weights)
        return sp.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=(self.size,) * 2)

    def contact(self):
        """All contacts at G = 1 W/(m K)."""
        edges = np.array([edge[:4] for edge in self.patch_edges])
        share = np.array([edge[4] for edge in self.patch_edges]) / np.repeat([2 * w for _, _, w in self.contacts], 8 * self.fine)
        return self.across(edges[:, :2], share, facing=edges[:, 2:])

    def film(self):
        """A film of 1 W/(m2 K) on the hull."""
        rim = self.across(self.edges[self.outer], self.length[self.outer] * MM)
        if not self.film_lines:
            return rim
        return rim + self.across(np.array(self.film_lines), self.line_lengths() * MM)

    def area(self, groups):
        p = np.array(self.points)[np.concatenate(groups)]
        one, two = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
        return 0.5 * abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum()

    def line_lengths(self):
        at = np.array(self.points)[np.array(self.film_lines, dtype=int).reshape(-1, 2)]
        return np.hypot(*(at[:, 1] - at[:, 0]).T)

    def outline(self):
        """Length of the hull, and the area inside it less circles and patches, by geometry alone (mm, mm2)."""
        corners = [self.x[i] + self.b[i] * turn(at) for i, start, end in self.hull for at in (start, end)]
        after = corners[1:] + corners[:1]
        area = 0.5 * sum(p[0] * q[1] - p[1] * q[0] for p, q in zip(corners, after))
        perimeter = sum(np.hypot(*(q - p)) for p, q in list(zip(corners, after))[1::2])
        for i, start, end in self.hull:
            angle = end - start
            perimeter += self.b[i] * angle
            area += 0.5 * self.b[i] ** 2 * (angle - np.sin(angle))
        area -= np.pi * (self.b**2).sum()
        for i, j, w in self.contacts:
            area -= 2 * w * np.hypot(*(self.x[i] - self.x[j]))
            area += sum(w * np.sqrt(r * r - w * w) + r * r * np.arcsin(w / r) for r in (self.b[i], self.b[j]))
        return perimeter, area

    def middle(self):
        """Means of the two ends of each edge that radiates."""
        many = len(self.edges)
        ends = (np.repeat(np.arange(many), 2), self.name[self.edges].ravel())
        return sp.csr_matrix((np.full(2 * many, 0.5), ends), shape=(many, self.size))

    def solve(self, case, contact, start=None):
        """Rise of every unknown (K), NaN in the gas of a vacuum. `start`: the figures of a coarser grid."""
        walls = case["surroundings"] + KELVIN
        k = case["jacket"] * self.once("jackets", lambda: self.stiffness(self.tri))
        if contact > 0 and self.contacts:
            k = k + contact * self.once("contact", self.contact)
        if case["gas"] is not None:
            if self.gas:
                k = k + case["gas"] * self.once("gas", lambda: self.stiffness(self.gas))
            k = k + case["film"] * self.once("film", self.film)
        radiation = self.once(("exchange", case["emittance"]), lambda: self.exchange(case["emittance"])) * MM
        keep = np.unique(k.indices)
        mean = self.once("middle", self.middle)[:, keep]
        k = k[keep][:, keep]
        heat = np.zeros(len(keep))
        heat[: self.n] = case["heat"]
        rise = self.begin(start or (self.isothermal(case),) * 3)[keep]
        factors, last = None, np.inf
        for _ in range(100):
            t = walls + mean @ rise
            out = k @ rise + mean.T @ (radiation @ (SIGMA * (t**4 - walls**4)))
            self.balance = abs(heat - out).sum() / heat.sum()
            if factors is None:
                slope = k + mean.T @ radiation @ sp.diags(4 * SIGMA * t**3) @ mean
                factors = splu(slope.tocsc())
            step = factors.solve(heat - out)
            # Nothing is colder than the surroundings; a step beyond 0 K would find a foreign root of T⁴.
            step = np.maximum(rise + step, 0.0) - rise
            rise += step
            if abs(step).max() < 1e-8 * abs(rise).max():
                break
            if abs(step).max() > 0.5 * last:
                factors = None
            last = abs(step).max()
        else:
            raise SystemExit(f"{case['case']}: not settled")
        if self.balance > 1e-6:
            raise SystemExit(f"{case['case']}: heat in and out differ by {self.balance:.1e}")
        result = np.full(self.size, np.nan)
        result[keep] = rise
        return result

    def begin(self, figures):
        wires, skin, jackets = figures
        rise = np.full(self.size, skin)
        for i, cells in enumerate(self.tri):
            rise[self.name[cells]] = np.broadcast_to(jackets, self.n)[i]
        rise[: self.n] = wires
        return rise

    # ── results ──
    def figures(self, rise):
        """Conductor rises, mean jacket rise on the hull, mean rise of each jacket."""
        middle = rise[self.name[self.edges]].mean(axis=1)
        skin = (middle * self.length)[self.outer].sum() / self.length[self.outer].sum()
        jackets = []
        for ring, angles in zip(self.ring_nodes, self.ring_angles):
            step = (np.roll(angles, -1) - angles) % (2 * np.pi)
            t = rise[self.name[ring]]
            jackets.append((0.5 * (t + np.roll(t, -1)) * step).sum() / step.sum())
        return rise[: self.n], skin, jackets

    def isothermal(self, case):
        """Rise of the hottest conductor where all surfaces of the bundle have one temperature."""
        walls = case["surroundings"] + KELVIN
        radiating = self.once(("exchange", case["emittance"]), lambda: self.exchange(case["emittance"])).sum() * MM
        film = 0.0 if case["gas"] is None else case["film"] * MM * (self.line_lengths().sum() + self.length[self.outer].sum())
        skin = brentq(lambda r: radiating * SIGMA * ((walls + r) ** 4 - walls**4) + film * r - sum(case["heat"]), 0, 5000)
        drop = np.array(case["heat"]) * np.log(self.b / self.a) / (2 * np.pi * case["jacket"])
        return skin + drop.max()


def connected_pieces(segments):
    """Segments by the connected pieces that their ends make."""
    nodes = sorted({int(k) for s in segments for k in s})
    number = {k: m for m, k in enumerate(nodes)}
    p, q = np.array([[number[int(a)], number[int(b)]] for a, b in segments]).T
    many, label = connected_components(sp.csr_matrix((np.ones(len(p)), (p, q)), shape=(len(nodes),) * 2), directed=False)
    pieces = [[] for _ in range(many)]
    for segment, a in zip(segments, p):
        pieces[label[a]].append(segment)
    return pieces


def read():
    sections = defaultdict(list)
    with open("sections.csv") as f:
        for row in csv.DictReader(f):
            sections[row["section"]].append([float(row[k]) for k in ("x_mm", "y_mm", "conductor_radius_mm", "jacket_radius_mm")])
    cases = []
    with open("cases.csv") as f:
        for row in csv.DictReader(f):
            number = lambda k: float(row[k]) if row[k] else None
            cases.append(
                {
                    "case": row["case"],
                    "section": row["section"],
                    "contact": number("contact_w_mk"),
                    "gas": number("gas_w_mk"),
                    "film": number("film_w_m2k"),
                    "emittance": number("emittance"),
                    "jacket": number("jacket_w_mk"),
                    "surroundings": number("surroundings_degc"),
                    "heat": [float(v) for v in row["heat_w_m"].split()],
                }
            )
    return {name: np.array(c) for name, c in sections.items()}, cases


def check():
    """The parts against closed forms: prints value, closed form and difference."""

    def show(what, value, exact):
        print(f"{what:60} {value:10.6f} {exact:10.6f} {100 * (value / exact - 1):+8.3f} %")

    sections, cases = read()
    pair = np.array([[-0.6, 0, 0.47, 0.6], [0.6, 0, 0.47, 0.6]])
    for level in (0, 1, 2):
        print("grid", level)
        grid = Grid(pair, level)
        side = grid.owner == 0
        # Crossed strings: arcs of two touching cylinders from the edge of the patch to the straight line of the hull, both sides.
        b, w = 0.6, PATCH * 0.6
        deep = b - np.sqrt(b * b - w * w)
        far = np.hypot(b + deep, w)
        crossed = np.sqrt(far**2 - b * b) + b * (np.pi / 2 - np.arctan2(w, b + deep) - np.arccos(b / far))
        show("exchange of two touching cylinders (mm)", grid.sight_lines[side][:, ~side].sum(), 2 * crossed - 2 * deep - 2 * b)
        # Uniform flux through a patch into a ring with an isothermal bore: mean rise of the patch, by Fourier series.
        k = 0.24 * grid.stiffness(grid.tri)
        flux = np.zeros(grid.size)
        patch = np.array([edge[:2] if edge[0] in grid.ring_nodes[0] else edge[2:4] for edge in grid.patch_edges])
        share = np.array([edge[4] for edge in grid.patch_edges]) / (2 * grid.contacts[0][2])
        for end in (0, 1):
            np.add.at(flux, grid.name[patch[:, end]], 0.5 * share)
        inside = np.unique(grid.name[np.concatenate([grid.tri[0].ravel()])])
        inside = inside[inside >= grid.n]
        rise = np.zeros(grid.size)
        rise[inside] = splu(k[inside][:, inside].tocsc()).solve(flux[inside])
        beta, ratio, n = np.arcsin(PATCH), 0.47 / 0.6, np.arange(1, 20001)
        sinc = np.sin(n * beta) / (n * beta)
        exact = (-np.log(ratio) + 2 * (sinc**2 / n * np.tanh(-n * np.log(ratio))).sum()) / (2 * np.pi * 0.24)
        show("constriction of a jacket to a patch (K per W/m)", flux @ rise, exact)
        # Inversion at the point of contact makes a strip of the gas between two touching circles: one side conducts k (l b - c), where l
        # is the inverse of the patch edge and 1/2 < c < 1, from the two curves through the contact that enclose the line of the hull.
        k = grid.stiffness(grid.gas)
        held = np.where(np.isin(np.arange(grid.size), grid.name[grid.ring_nodes[0]]), 1.0, 0.0)
        still = np.unique(grid.name[np.concatenate(grid.ring_nodes)])
        free = np.setdiff1d(np.unique(k.indices), still)
        held[free] = splu(k[free][:, free].tocsc()).solve(-(k @ held)[free])
        show("gas between two touching wires, of its conductivity", held @ k @ held, 2 * (w * b / (w * w + deep * deep) - 0.75))
        alone = next(c for c in cases if c["case"] == "equal-1 all air")
        for name, circles in sections.items():
            if level > 0 and len(circles) > 20:
                continue
            grid = Grid(circles, level)
            perimeter, room = grid.outline()
            show(f"{name}: black wires radiate as their hull (mm)", grid.exchange(1 - 1e-9).sum(), perimeter)
            if grid.n > 1:
                show(f"{name}: area of the gas (mm2)", grid.area(grid.gas), room)
        grid = Grid(sections["equal-1"], level)
        show("one wire in air: rise (K)", grid.figures(grid.solve(alone, 0))[0].max(), grid.isothermal(alone))


def run(section, circles, cases, levels):
    """Rows of the three tables: of the finest grid, of its wires, of every grid."""
    expected, rises, grids, before, solved = [], [], [], {}, [{}]
    for level in levels:
        start = time.time()
        grid = Grid(circles, level)
        solved.append({})
        print(f"{section} grid {level}: {len(grid.points)} nodes, {len(grid.edges)} edges, {time.time() - start:.1f} s", flush=True)
        for case in cases:
            start = time.time()
            alike = (tuple(case["heat"]), case["gas"])
            for contact in (0.0, case["contact"]):
                key = (alike, contact)
                if key not in solved[-1]:
                    solved[-1][key] = grid.figures(grid.solve(case, contact, solved[-2].get(key)))
            wires, skin, jackets = solved[-1][key]
            balance, hottest = grid.balance, wires.max()
            change = [f"{100 * (new / old - 1):.3f}" for new, old in zip((hottest, skin), before.get(case["case"], ()))] or ["", ""]
            before[case["case"]] = (hottest, skin)
            grids.append([case["case"], level, len(grid.points), f"{hottest:.3f}", f"{skin:.3f}", *change])
            if level == levels[-1]:
                low, high = grid.isothermal(case), solved[-1][alike, 0.0][0].max()
                figures = [f"{v:.3f}" for v in (hottest, skin, low, high)]
                expected.append([case["case"], int(wires.argmax()), *figures, change[0].lstrip("-")])
                rises += [[case["case"], i, f"{w:.3f}", f"{j:.3f}"] for i, (w, j) in enumerate(zip(wires, jackets))]
            took = time.time() - start
            print(f"  {case['case']:30} {hottest:8.3f} {skin:8.3f} {change} balance {balance:.0e} {took:.1f} s", flush=True)
    return expected, rises, grids


HEADS = {
    "expected": "case,hottest_circle,hottest_k,skin_k,isothermal_hull_k,zero_contact_k,last_change_percent",
    "rises": "case,circle,conductor_k,jacket_k",
    "grids": "case,grid,nodes,hottest_k,skin_k,hottest_change_percent,skin_change_percent",
}


def main():
    if sys.argv[1:] == ["check"]:
        return check()
    sections, cases = read()
    wanted = sys.argv[1:2] or list(sections)
    tables = {name: [] for name in HEADS}
    for section in wanted:
        levels = tuple(map(int, sys.argv[2:])) or GRIDS[section]
        for table, rows in zip(tables.values(), run(section, sections[section], [c for c in cases if c["section"] == section], levels)):
            table += rows
        if len(sys.argv) > 1:
            continue
        for name, rows in tables.items():
            with open(f"{name}.csv", "w", newline="\n") as f:
                f.write(HEADS[name] + "\n" + "".join(",".join(map(str, row)) + "\n" for row in rows))


if __name__ == "__main__":
    main()
