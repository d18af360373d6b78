"""A source whose own output can be trimmed: a converter's base and scale."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pitchwright.errors import InputError
from pitchwright.practice.source import CvSource
from pitchwright.practice.trimmer_physics import Summing, summed
from pitchwright.practice.trimmers import Trimmer
from pitchwright.trim.kinds import TrimmerKind

__all__ = ["TrimmableSource", "trimmable"]


@dataclass(frozen=True, slots=True)
class TrimmableSource:
    """A source and its trimmers; turning one gives a new source.

    Attributes
    ----------
    source
        With all trimmers at mid travel.
    trimmers
        Base (volts added to every note) and scale (about 0 V), at most one of a kind.
    """

    source: CvSource
    trimmers: tuple[Trimmer, ...]

    @property
    def now(self) -> CvSource:
        """The source as its trimmers stand."""
        at = summed(Summing(), self.trimmers)
        return replace(
            self.source,
            gain_error=self.source.gain_error + at.scale_gain - 1.0,
            offset_v=self.source.offset_v + at.after_v,
        )

    def turned(self, kind: TrimmerKind, turns: float) -> TrimmableSource:
        """The source after turning one trimmer; InputError where it has none of that kind."""
        if kind not in [one.kind for one in self.trimmers]:
            raise InputError(f"It has no {kind} trimmer", where=self.source.name)
        turned = tuple(one.turned(turns) if one.kind == kind else one for one in self.trimmers)
        return replace(self, trimmers=turned)


def trimmable(source: CvSource) -> TrimmableSource:
    """Trimmers such as a converter has, on a source of the rig. All invented."""
    return TrimmableSource(
        source,
        (
            Trimmer.at(TrimmerKind.BASE_FINE, 8.0, travel_turns=12.0, backlash_turns=0.02),
            Trimmer.at(TrimmerKind.SCALE, 1.5, travel_turns=15.0, backlash_turns=0.03),
        ),
    )
