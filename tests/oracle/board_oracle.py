#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
#
# Brute-force oracle of a board's segments. It reads a board/1 file, builds the graph of places and
# segments on its own, removes each segment in turn, and says what that does to the attached points
# and what a tip could tell. It shares no source with graph/ and has no eye for speed. It expects a
# valid file: wrong ones are the reader's matter.
#
# Usage: board_oracle.py BOARD.yaml > segments.json
#
# {"nets", "points", "attached", "groups": counts (DESIGN words; default hookup),
#  "attached_points": names in lead order,
#  "segments": [{
#    "net":        name; null for a pin or via that no net lists,
#    "kind":       trace | barrel | joint | contact | unknown way,
#    "a", "b":     place names, "U2.7@leg"; just the point where it has one place;
#                  "A9 (way unknown)" for the hub of net A9,
#    "point":      of an unknown way only: the member that hangs by it,
#    "observable": its removal changes the partition of the net's attached points,
#    "pieces":     that partition after its removal, as lists of point names,
#    "group":      indices of the net's segments, itself included, whose removal leaves the same
#                  partition of all places that can be touched}]}
#
# Order: nets as in the file; in each first traces, then unknown ways, then what lies within its
# points; at last the points in no net. Needs Debian's python3-yaml and python3-networkx.
import json
import re
import sys

import networkx
import yaml

OPPOSITE = {"top": "bottom", "bottom": "top"}


def pin_count(package):
    """Number of pins of a package; where they are does not matter here."""
    match = re.fullmatch(r"(?:DIP|SIP|SOIC)-(\d+)(?: .+)?|row (\d+)", package)
    if match:
        return int(match[1] or match[2])
    match = re.fullmatch(r"header (\d+)x(\d+)", package)
    if match:
        return int(match[1]) * int(match[2])
    assert re.match(r"(axial|radial) ", package), package
    return 2


class Pin:
    """A pin of a part. `merged`: its two pads are one place, as the side of a trace is unknown."""

    def __init__(self, name, part, entry, surface):
        own = entry if isinstance(entry, dict) else {}
        self.name = name
        self.side = part.get("side", "top")
        self.surface = surface or "side" in own
        if "side" in own:
            self.side = own["side"]
        self.access = own.get("access", part.get("access", "clip"))
        self.chip = part.get("chip", "soldered")
        self.net = None
        self.has_trace = False
        self.merged = False

    def points(self):
        return [(self.name, self.access)]

    def one_pad(self):
        return self.surface or self.merged or not self.has_trace

    def solder_pad(self):
        return "pad" if self.one_pad() else OPPOSITE[self.side]


class Spot:
    """A named point: a test pad, or a via with its two sides."""

    def __init__(self, name, entry):
        self.name = name
        self.via = entry.get("via", [])
        self.side = entry.get("side")
        access = entry.get("access", "tip" if self.via else "clip")
        sides = len(self.via) or 1
        self.accesses = access if isinstance(access, list) else [access] * sides
        self.net = None

    def points(self):
        names = [f"{self.name}@{side}" for side in self.via] or [self.name]
        return list(zip(names, self.accesses))


def read_units(board):
    """Pins and named points by name, in file order."""
    units = {}
    for part_name, part in (board.get("parts") or {}).items():
        package = part.get("package")
        pins = part.get("pins") or {str(n + 1): None for n in range(pin_count(package))}
        for pin, entry in pins.items():
            name = f"{part_name}.{pin}"
            surface = bool(package) and package.startswith("SOIC")
            units[name] = Pin(name, part, entry, surface)
    for name, entry in (board.get("points") or {}).items():
        units[name] = Spot(name, entry)
    return units


def end_side(units, reference, chain_side, leaving):
    """The side on which this end of a trace must lie, as far as the end itself says so."""
    name, _, suffix = reference.partition("@")
    unit = units[name]
    if suffix in OPPOSITE:
        return suffix
    if isinstance(unit, Spot):
        if unit.via:
            return chain_side or unit.via[-1 if leaving else 0]
        return unit.side
    return unit.side if unit.surface else None


def chain_traces(units, chain):
    """The traces of a chain as [reference, reference, side or None]."""
    side, references = None, chain
    if isinstance(chain, dict):
        side, references = chain.get("side"), chain["chain"]
    traces = []
    for first, second in zip(references, references[1:]):
        known = {end_side(units, first, side, True), end_side(units, second, side, False), side}
        known.discard(None)
        assert len(known) <= 1, f"{first} to {second} changes sides"
        traces.append([first, second, known.pop() if known else None])
    # Copper keeps its side across a bare through-hole pin: once forwards, once backwards.
    for order in (range(1, len(traces)), range(len(traces) - 2, -1, -1)):
        for here in order:
            there = here - 1 if order.step > 0 else here + 1
            shared = traces[max(here, there)][0]
            unit = units[shared.partition("@")[0]]
            if traces[here][2] is None and shared in units and isinstance(unit, Pin):
                traces[here][2] = traces[there][2]
    return traces


class Graph:
    """Places and segments. A node is (point name, place kind); a hub is (net name, "hub")."""

    def __init__(self, board):
        self.assembled = board.get("state", "assembled") == "assembled"
        self.units = read_units(board)
        self.nets = board.get("nets") or {}
        self.graph = networkx.MultiGraph()
        self.access = {}
        self.segments = []
        self.segments_within = {}
        self.copper = board.get("copper") or []
        traces = {net: self.read_net(net) for net in self.nets}
        for unit in self.units.values():
            self.add_places(unit)
        for net in self.nets:
            self.add_net(net, traces[net])
        for name, unit in self.units.items():
            if unit.net is None:
                self.add_within(name)

    def tracks(self, a, b):
        """Number of parallel tracks between two places. A bare pin or via means all its pads."""
        for entry in self.copper:
            first, second = entry["between"]
            for one, other in ((a, b), (b, a)):
                if first in self.names(one) and second in self.names(other):
                    return entry.get("count", 1)
        return 1

    def names(self, place):
        point, kind = place
        return {point, f"{point}@{kind}", point.partition("@")[0]}

    def read_net(self, net):
        """Marks the units of a net and their pads; returns its traces."""
        entry = self.nets[net]
        chains = entry.get("route", []) if isinstance(entry, dict) else []
        traces = [chain_traces(self.units, chain) for chain in chains]
        for first, second, side in sum(traces, []):
            for reference in (first, second):
                unit = self.units[reference.partition("@")[0]]
                unit.net = net
                if isinstance(unit, Pin):
                    unit.has_trace = True
                    unit.merged = unit.merged or side is None
        for reference in self.members(net):
            self.units[reference.partition("@")[0]].net = net
        return traces

    def members(self, net):
        entry = self.nets[net]
        if isinstance(entry, list):
            return entry
        return entry.get("points", []) + entry.get("also", [])

    def add_place(self, point, kind, access):
        self.graph.add_node((point, kind))
        self.access[(point, kind)] = access

    def add_places(self, unit):
        """The places of a pin or named point and what joins them."""
        within = []
        if isinstance(unit, Spot):
            for point, access in unit.points():
                self.add_place(point, "only", access)
            if unit.via:
                ends = [(point, "only") for point, _ in unit.points()]
                within.append(("barrel", ends[0], ends[1]))
            self.segments_within[unit.name] = within
            return
        solder = unit.solder_pad()
        by_tip = "none" if unit.access == "none" else "tip"
        has_leg = self.assembled and unit.chip != "pulled"
        self.add_place(unit.name, solder, by_tip if has_leg else unit.access)
        socketed = self.assembled and unit.chip != "soldered"
        below = (unit.name, solder)
        if socketed:
            self.add_place(unit.name, "socket", "none" if has_leg else by_tip)
            within.append(("joint", (unit.name, "socket"), below))
            below = (unit.name, "socket")
        if has_leg:
            self.add_place(unit.name, "leg", unit.access)
            within.insert(0, ("contact" if socketed else "joint", (unit.name, "leg"), below))
        if not unit.one_pad():
            hidden = "none" if self.assembled else by_tip
            self.add_place(unit.name, unit.side, hidden)
            within.append(("barrel", (unit.name, solder), (unit.name, unit.side)))
        self.segments_within[unit.name] = within

    def add_segment(self, net, kind, a, b, point=None):
        key = len(self.segments)
        self.graph.add_edge(a, b, key)
        self.segments.append({"net": net, "kind": kind, "a": a, "b": b, "point": point})

    def add_within(self, name):
        for kind, a, b in self.segments_within[name]:
            self.add_segment(self.units[name].net, kind, a, b)

    def trace_end(self, reference, side):
        name, _, _ = reference.partition("@")
        unit = self.units[name]
        if isinstance(unit, Spot):
            return (f"{name}@{side}" if unit.via else name, "only")
        return (name, "pad" if unit.one_pad() else side)

    def add_net(self, net, chains):
        """Traces, then the unknown ways, then what lies within the points."""
        seen = set()
        for first, second, side in sum(chains, []):
            a, b = self.trace_end(first, side), self.trace_end(second, side)
            if frozenset((a, b)) in seen:
                continue
            seen.add(frozenset((a, b)))
            for _ in range(self.tracks(a, b)):
                self.add_segment(net, "trace", a, b)
        own = [name for name, unit in self.units.items() if unit.net == net]
        starts = [self.trace_end(chain[0][0], chain[0][2]) for chain in chains]
        hanging = self.hanging(net, own, starts)
        anchor = starts[0] if starts else (net, "hub")
        if not starts and len(hanging) > 1:
            self.add_place(net, "hub", "none")
        if starts or len(hanging) > 1:
            for place in hanging:
                self.add_segment(net, "unknown way", anchor, place, place[0])
        for name in own:
            self.add_within(name)

    def hanging(self, net, own, starts):
        """Places whose way to the rest of the net is not known: one for each further component of
        the route, then one for each member. A pin hangs by its solder-side pad."""
        local = networkx.MultiGraph()
        for name in own:
            points = [point for point, _ in self.units[name].points()]
            local.add_nodes_from(node for node in self.graph if node[0] in points)
            local.add_edges_from((a, b) for _, a, b in self.segments_within[name])
        local.add_edges_from((s["a"], s["b"]) for s in self.segments if s["net"] == net)
        reached = networkx.node_connected_component(local, starts[0]) if starts else set()
        further = [p if p[1] == "only" else self.member_place(p[0]) for p in starts]
        hanging = []
        for place in further + [self.member_place(name) for name in self.members(net)]:
            if place not in reached:
                hanging.append(place)
                reached = reached | networkx.node_connected_component(local, place)
        return hanging

    def member_place(self, reference):
        name, _, suffix = reference.partition("@")
        unit = self.units[name]
        if isinstance(unit, Spot):
            return (f"{name}@{suffix or unit.via[0]}" if unit.via else name, "only")
        return (name, unit.solder_pad())

    def held(self):
        """Point name to the place of its lead, for the default hookup, in lead order."""
        leads = {}
        for unit in self.units.values():
            for point, access in unit.points():
                if access == "clip":
                    kinds = ["leg", "only", unit.solder_pad() if isinstance(unit, Pin) else ""]
                    leads[point] = next((point, k) for k in kinds if (point, k) in self.graph)
        return leads

    def touchable(self):
        return [place for place in self.graph if self.access[place] != "none"]

    def place_name(self, place):
        point, kind = place
        if kind == "hub":
            return f"{point} (way unknown)"
        alone = sum(1 for node in self.graph if node[0] == point and node[1] != "hub") == 1
        return point if alone else f"{point}@{kind}"


def partition(graph, places):
    """Which of the places are joined; classes and their members in the order of `places`."""
    component = {}
    for number, nodes in enumerate(networkx.connected_components(graph)):
        component.update((node, number) for node in nodes)
    classes = {}
    for place in places:
        classes.setdefault(component[place], []).append(place)
    return list(classes.values())


def examine(model):
    """Removes each segment in turn. Returns the segments as they are printed."""
    leads = model.held()
    results, signatures = [], []
    for key, segment in enumerate(model.segments):
        nodes = networkx.node_connected_component(model.graph, segment["a"])
        local = model.graph.subgraph(nodes).copy()
        attached = [place for place in leads.values() if place in nodes]
        touchable = [place for place in model.touchable() if place in nodes]
        before = partition(local, attached)
        local.remove_edge(segment["a"], segment["b"], key)
        after = partition(local, attached)
        signatures.append((min(nodes), partition(local, touchable)))
        results.append({
            "net": segment["net"],
            "kind": segment["kind"],
            "a": model.place_name(segment["a"]),
            "b": model.place_name(segment["b"]),
            **({"point": segment["point"]} if segment["point"] else {}),
            "observable": len(after) != len(before),
            "pieces": [[place[0] for place in piece] for piece in after],
        })
    for result, signature in zip(results, signatures):
        result["group"] = [i for i, other in enumerate(signatures) if other == signature]
    return results


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        model = Graph(yaml.safe_load(file))
    points = [(point, unit.net) for unit in model.units.values() for point, _ in unit.points()]
    net_of = dict(points)
    leads = model.held()
    print(json.dumps({
        "nets": len(model.nets),
        "points": len(points),
        "attached": len(leads),
        "groups": len({net_of[point] or (point,) for point in leads}),
        "attached_points": list(leads),
        "segments": examine(model),
    }, indent=1))


if __name__ == "__main__":
    main()
