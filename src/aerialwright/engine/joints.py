"""Where line ends meet: nodes up to a turn of the symmetry, and the free ends of rods."""

from __future__ import annotations

import math

from aerialwright.engine.lines import RING, ROD, Line, Node, Point, fault, same_line
from aerialwright.structure.model import JOIN_TOLERANCE, Structure

#: A solid rod's flat end acts as this part of its radius more of open tube. Measured with this engine's own closed and
#: open tubes (docs/decisions/0010): 0.12 for thin rods, falling to 0.10 at a radius of 1/50 of a wavelength.
FLAT_END = 0.12


def join(lines: list[Line], order: int, mode: int) -> list[Node]:
    """Number the nodes: rings by (rho, z), rods up to a turn of the group; sets ``start_node`` and ``end_node``."""
    nodes: list[Node] = []
    step = 2 * math.pi / order

    def find(kind: int, point: Point) -> int:
        rho, z = math.hypot(point[0], point[1]), point[2]
        for index, node in enumerate(nodes):
            node_rho, node_z = math.hypot(node.position[0], node.position[1]), node.position[2]
            if abs(rho - node_rho) > JOIN_TOLERANCE or abs(z - node_z) > JOIN_TOLERANCE:
                continue
            if kind == RING or node.ring or rho < JOIN_TOLERANCE:
                if kind == RING and not node.ring:
                    node.ring = True
                    node.position = (rho, 0.0, z)
                return index
            turn = math.atan2(point[1], point[0]) - math.atan2(node.position[1], node.position[0])
            turns = turn / step
            if abs(turns - round(turns)) * step * rho < JOIN_TOLERANCE:
                if mode and round(turns) % order:
                    raise fault(
                        "arms joined to their neighbours round the axis are not modelled in mode 1",
                        "mode",
                        "leave the arms open or join them on the axis",
                    )
                return index
        position = (rho, 0.0, z) if kind == RING else point
        nodes.append(Node(position, kind == RING, []))
        return len(nodes) - 1

    for kind in (RING, ROD):
        for index, line in enumerate(lines):
            if line.kind != kind:
                continue
            line.start_node = find(kind, line.start)
            line.end_node = find(kind, line.end)
            nodes[line.start_node].ends.append((index, 0))
            nodes[line.end_node].ends.append((index, 1))
    # Two rod nodes at equal (rho, z) that a ring joined later are one node already (the ring came first).
    return nodes


def flat_ends(lines: list[Line], nodes: list[Node], structure: Structure) -> None:
    """Lengthen free rod ends, which are open tubes to the engine, by what a flat solid end adds."""
    for node in nodes:
        if len(node.ends) == 1 and lines[node.ends[0][0]].kind == ROD:
            if structure.ground == "perfect" and abs(node.position[2]) < JOIN_TOLERANCE:
                continue
            if structure.mode and node.on_axis:
                continue
            index, side = node.ends[0]
            line = lines[index]
            part = FLAT_END * line.radius / line.length
            x, y, z = ((b - a) * part for a, b in zip(line.start, line.end, strict=True))
            if side:
                line.end = (line.end[0] + x, line.end[1] + y, line.end[2] + z)
            else:
                line.start = (line.start[0] - x, line.start[1] - y, line.start[2] - z)


def check_joins(lines: list[Line], nodes: list[Node], structure: Structure) -> None:
    """Every piece must be reachable from the feed's metal or stand alone on purpose (a parasitic rod)."""
    for line in lines:
        if line.kind == RING and line.start_node == line.end_node:
            raise fault("a profile piece closes on itself", line.name, "remove the doubled point")
    seen: set[tuple[int, int]] = set()
    for line in lines:
        key = (min(line.start_node, line.end_node), max(line.start_node, line.end_node))
        if key in seen and _doubles(line, key, lines):
            raise fault("two pieces of metal lie on the same line", line.name, "remove one of them")
        seen.add(key)


def _doubles(line: Line, key: tuple[int, int], lines: list[Line]) -> bool:
    for other in lines:
        if other is line or (min(other.start_node, other.end_node), max(other.start_node, other.end_node)) != key:
            continue
        if other.kind == line.kind and same_line(other.start, other.end, line.start, line.end):
            return True
    return False
