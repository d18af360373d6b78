"""Finding room for a label beside the thing it names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from pitchwright.pictures.faces import text_width

__all__ = ["Box", "Labels"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in pixels, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: Box) -> float:
        """Area shared with another box."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(across, 0.0) * max(down, 0.0)

    def outside(self, room: Box) -> float:
        """Area that sticks out of ``room``."""
        return (self.right - self.left) * (self.bottom - self.top) - self.overlap(room)


@dataclass(slots=True)
class Labels:
    """What is already drawn, and the room there is."""

    room: Box
    taken: list[Box] = field(default_factory=list)

    def block(self, boxes: Iterable[Box]) -> None:
        """Remember what labels should not cover."""
        self.taken.extend(boxes)

    def place(self, text: str, size: float, x: float, y: float, gap: float = 11.0) -> Box:
        """Choose the place around (x, y) where ``text`` covers least; remember it."""
        width, height = text_width(text, size), 1.25 * size
        best, least = Box(x, y, x + width, y + height), float("inf")
        for away in (gap, 2.0 * gap, 3.5 * gap, 5.5 * gap, 8.0 * gap):
            for dx, dy in _AROUND:
                cx = x + dx * (away + width / 2.0)
                cy = y + dy * (away + height / 2.0)
                box = Box(cx - width / 2, cy - height / 2, cx + width / 2, cy + height / 2)
                cost = sum(box.overlap(other) for other in self.taken)
                cost += 20.0 * box.outside(self.room) + 2.0 * away
                if cost < least:
                    best, least = box, cost
        self.taken.append(best)
        return best


_AROUND = (
    (0.0, -1.0),
    (0.0, 1.0),
    (0.55, -1.0),
    (-0.55, -1.0),
    (0.55, 1.0),
    (-0.55, 1.0),
    (1.0, 0.0),
    (-1.0, 0.0),
    (1.0, -0.8),
    (-1.0, -0.8),
    (1.0, 0.8),
    (-1.0, 0.8),
)
