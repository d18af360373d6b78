"""Every word of the page in one place, ready for translation.

A text is asked for by its key; what stands in braces is filled in. Sentences that procedures speak
come ready from them. Numbers are written here too, so that a translation can write them its way.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

__all__ = [
    "ENGLISH",
    "beats",
    "cents",
    "count",
    "first_large",
    "minutes_ago",
    "plain",
    "say",
    "sense",
    "stretched",
]

ENGLISH: Final[dict[str, str]] = {
    # --- the frame of every screen
    "name": "pitchwright",
    "skip": "To the content",
    "menu": "Menu",
    "menu.screens": "Screens",
    "bench.opening": "Setting up …",
    "bench.practice": "practice rig",
    "bench.live": "connected",
    "bench.recording": "recording",
    "screen.start": "What is connected",
    "screen.survey": "Survey",
    "screen.trim": "Trim",
    "screen.practice": "Practise by ear",
    "screen.warm-up": "Warm-up",
    "screen.instrument": "Whole instrument",
    "screen.logbook": "Logbook",
    "screen.certificate": "Certificate",
    "lead.other": "The {who} leads.",
    "lead.nobody": "No screen leads now.",
    "lead.take": "Take the lead",
    "lead.phone": "phone",
    "lead.tablet": "tablet",
    "lead.computer": "computer",
    "busy": "{what} of {whom} is under way.",
    "busy.see": "Show it",
    "notices": "Notices",
    "fault": "That did not work",
    "caution": "Caution",
    "stop": "Stop here",
    "go on again": "Go on where it stopped",
    "begin": "Begin",
    "speak": "Speak",
    "speak.name": "Spoken instructions",
    "tick": "Tick",
    "tick.name": "A soft tick for every beat",
    "procedure.survey": "The survey",
    "procedure.guided trim": "The trim",
    "procedure.warm-up watch": "The warm-up watch",
    "procedure.ensemble check": "The check",
    # --- start
    "start.waiting": "The bench is being set up. This takes a moment.",
    "start.practice": (
        "Everything works here as it does on a real instrument, and nothing can break. Names "
        "and figures are invented."
    ),
    "start.oscillators": "Oscillators",
    "start.trimmers": "Trimmers: {names}",
    "start.no trimmers": "no trimmers known",
    "start.survey": "Survey: how far is each note off?",
    "start.trim": "Trim: which trimmer, and where to stop?",
    "start.practice it": "Practise: learn to hear it first",
    "start.screens": "Screens that look on",
    "start.this": "{words} (this one)",
    "start.leads": "{words}, leads",
    "start.safe title": "Before anything is plugged in",
    "start.safe attenuate": (
        "Modular outputs are about ten volts from peak to peak: attenuate before a line input."
    ),
    "start.safe dc": (
        "A control voltage is DC: never lead it to a loudspeaker, headphones or a power amplifier."
    ),
    "start.safe power": (
        "Switch the power off before a module is taken out, and leave the power supply "
        "closed: local codes and licensed practice come first."
    ),
    "start.safe hearing": (
        "Reference tones start quiet and fade in; long listening at a high level harms hearing."
    ),
    "start.resume": "Go on with {name}, where it stopped",
    "start.allow": "Allow sound and voltage",
    "start.output local": (
        "Sound and voltage on this machine's outputs are not allowed yet. Allow them once every"
        " cable is where it belongs: a control voltage never goes to a loudspeaker or headphones."
    ),
    "start.output": (
        "Sound and voltage on this machine's outputs are not allowed yet. Only the person at "
        "the machine can allow them."
    ),
    # --- settings of a procedure
    "set.oscillator": "Oscillator",
    "set.oscillators": "Oscillators",
    "set.low": "From",
    "set.high": "to",
    "set.tolerance": "Within, in cents",
    "set.step": "A note every",
    "set.semitones": "{count} semitones",
    "set.besides": "A4, conditions and more",
    "set.besides why": "What is left empty is as the bench says, or not noted. A4 is then 440 Hz.",
    "set.a4": "A4, Hz",
    "set.temperature": "Room, °C",
    "set.minutes on": "Minutes on",
    "set.source": "Played by",
    "set.route": "Route of voltage",
    "set.wider low": "Then try from",
    "set.wider high": "Then try to",
    "set.as above": "as above",
    "set.wider why": "Where the range above holds, a wider one is tried, and kept where it holds.",
    "set.leave": "Trimmers to leave alone",
    "target": "Tune it to",
    "target.flat": "Equal temperament",
    "target.own": "Its own middle C",
    "target.own words": "its own middle C",
    "target.follow": "The curve of another one",
    "target.beats": "Beat against another one",
    "target.cents": "A distance from another one",
    "target.leader": "Which one",
    "target.beats amount": "Slowest, beats a second",
    "target.cents amount": "Cents above it",
    "target.none surveyed": "Survey another oscillator first to follow it or to beat against it.",
    "target.flat why": "At A4 = 440 Hz, unless another is given below.",
    "target.own why": "Equal temperament too, wherever its middle C lies.",
    "target.follow why": "As it was surveyed: where that one is off, this one will be, too.",
    "target.beats why": (
        "As evenly over the keyboard as base and scale can make it, counted from the other one as"
        " it was surveyed."
    ),
    "target.cents why": "Counted from the other one as it was surveyed.",
    # --- survey
    "survey.title": "Survey",
    "survey.lead": (
        "Every note is played and heard; nothing is turned. What comes out is the tracking "
        "curve: how far each note is from where it should be, and how sure that is."
    ),
    "survey.hearing": "{note} is heard",
    "survey.progress": "{done} notes heard",
    "survey.done": "{name}",
    "survey.next": "Another survey",
    "survey.left": "Surveyed as left; crosses are as found.",
    # --- trim
    "trim.title": "Trim",
    "trim.lead": (
        "The tool hears how the oscillator stands, then names one trimmer after the other and"
        " the reading to stop at. A visit is one trimmer, screwdriver in to screwdriver out."
    ),
    "trim.tool": (
        "Use an insulated trimming tool. Power off before a module is taken out; the power "
        "supply stays closed. Local codes and licensed practice come first."
    ),
    "trim.where": "{name} · visit {visit} · {note} sounds",
    "trim.part probe": "probe",
    "trim.part far": "far note",
    "trim.part exact": "exact aim",
    "trim.parts": "This visit",
    "trim.turn probe": "Turn the {trimmer} a little{way}, to the aim.",
    "trim.turn": "Turn the {trimmer}{way} until the bob rests on the aim.",
    "trim.turn by ear": "Turn the {trimmer}{way} until the beat stands still.",
    "trim.nudge": "Nudge the {trimmer}{way} onto the aim.",
    "trim.way right": " clockwise",
    "trim.way left": " counter-clockwise",
    "trim.why probe": "A short first turn shows how it acts.",
    "trim.why zero": "The aim is where the whole curve comes right.",
    "trim.why aim": "Stop at {aim}, not at zero: what comes after brings it home.",
    "trim.why nudge": "A little more, and the rest comes right.",
    "trim.flat": "too flat",
    "trim.sharp": "too sharp",
    "trim.aim": "aim",
    "trim.stop": "stop",
    "trim.inside": "inside",
    "trim.hint begin": "turn gently, one way will be right",
    "trim.hint begin way": "turn gently",
    "trim.hint onward": "that way is right",
    "trim.hint turn back": "turn back",
    "trim.hint inside": "hold still",
    "trim.unsure": "± {u} cents",
    "trim.unsure not": "uncertainty not known yet",
    "trim.reads": "at {now}, aim {aim}",
    "trim.sound clipped": "Too loud: the input clips. Turn its level down, or attenuate.",
    "trim.sound gaps": "Sound was lost on its way. Close other programs on the computer.",
    "trim.sound too quiet": "Very quiet. Turn its level up, or look after the cable.",
    "trim.go on": "Go on",
    "trim.go on why": "or let it rest on the aim",
    "trim.hands still": "Leave the screwdriver where it is.",
    "trim.hear first": "First the tool hears how it stands.",
    "trim.again": "Trim another",
    "trim.survey left": "Survey it as left",
    "trim.said": "What happened",
    "trim.stand in tune": "{name} is in tune",
    "trim.stand reachable but not certifiable": "{name} can be in tune, but this cannot show it",
    "trim.stand cannot": "{name} cannot be brought in with these trimmers",
    "trim.verdict": (
        "Greatest error {greatest} cents at {note}, against {target}; ±{tolerance} is wanted from"
        " {low} to {high}. The best these trimmers could do is ±{best}."
    ),
    "trim.would help": "What would help",
    "trim.missed": "You stopped {off} cents {sense}: {beat}.",
    "trim.missed none": "You stopped inside the aim, {off} cents from its middle.",
    # --- spoken only
    "spoken.onward": "That way.",
    "spoken.turn back": "The other way.",
    "spoken.inside": "Stop. Hold still.",
    "spoken.left": "{left}",
    # --- practice
    "slider.turns": "{turns} turns",
    "slider.name": "{trimmer}, turns of the screwdriver",
    "slider.less": "Turn the {trimmer} a hair counter-clockwise",
    "slider.more": "Turn the {trimmer} a hair clockwise",
    "slider.others": "Its other trimmers",
    "practice.title": "Practise by ear",
    "practice.lead": (
        "Trim a simulated oscillator while you hear it beat against the aim. The slower the "
        "beat, the nearer; afterwards the page shows what the ear missed."
    ),
    "practice.not here": "Sliders need the practice rig; a real instrument is connected now.",
    "practice.hear": "Hear it",
    "practice.hear name": "Hear the oscillator and the aim together",
    "practice.loud": "Loudness",
    "practice.quiet": (
        "It starts quiet and fades in. Turn it up only as far as you need: long listening at "
        "a high level harms hearing."
    ),
    "practice.hide": "Hide the numbers",
    "practice.hide here": "on this screen",
    "practice.hide others": "on the other screens",
    "practice.hide none": "nowhere",
    "practice.hide why": (
        "A teacher keeps them on one screen and hides them on the others. Hidden, a turn ends"
        " only when you say so."
    ),
    "practice.hidden why": "The numbers are hidden.",
    "practice.go on why": "when you hear no beat",
    "practice.missed": "What the ear missed",
    # --- the sheet
    "sheet.alt": "Tracking curve of {name}. Arrow keys go from note to note.",
    "sheet.cents": "cents",
    "sheet.found": "as found",
    "sheet.now": "now",
    "sheet.model": "fitted model",
    "sheet.foreseen": "foreseen as left",
    "sheet.band": "within ±{tolerance}",
    "sheet.reach": "within ±{tolerance}: {low} to {high}",
    "sheet.reach none": "within ±{tolerance}: no note for certain",
    "sheet.lower": "Lower note",
    "sheet.higher": "Higher note",
    "sheet.note": "{note}: {cents} cents, ± {u}",
    "sheet.touch": "Touch a note to hear about it.",
    "sheet.off": "off",
    "sheet.sure": "what covers 95 %",
    "sheet.beats": "beats against its target",
    "sheet.readings": "readings kept",
    "sheet.left out": "Left out",
    "sheet.was": "as found",
    "sheet.doubt": "In doubt",
    "sheet.listen": "Hear this note beat",
    # --- warm-up
    "warm-up.title": "Warm-up",
    "warm-up.lead": (
        "One note is heard again and again until it hardly moves any more. What is trimmed before"
        " that is the warm-up, not the oscillator."
    ),
    "warm-up.note": "Note",
    "warm-up.enough": "Enough",
    "warm-up.too early to say": "too early to say",
    "warm-up.warming up": "warming up",
    "warm-up.ready": "ready",
    "warm-up.never settles": "never settles",
    # --- the whole instrument
    "instrument.title": "Whole instrument",
    "instrument.lead": "All oscillators hear the same notes at once: who is in tune with whom, and"
    " whose error it is.",
    "instrument.next": "Check again",
    "instrument.sources": "Played by",
    "instrument.apart": "Farthest apart: {one} and {two} at {note}, {cents} cents, {beat}.",
    "instrument.close": "Closest: {one} and {two} at {note}, {cents} cents, {beat}.",
    "instrument.worst": "worst {cents} at {note}",
    "instrument.reach": "within ±{tolerance}: {reach}",
    "instrument.no reach": "no note for certain",
    "instrument.whose": "Whose error it is",
    "instrument.together": "All within ±{tolerance} from {low} to {high}",
    "instrument.not together": "Not all within ±{tolerance} at any note",
    "instrument.worked out": "Routes, planned detunes, corrections",
    "instrument.scale": "Every strip is ±{half} cents high; the band is ±{tolerance}.",
    # --- the logbook
    "logbook.title": "Logbook",
    "logbook.lead": "What was measured and turned, kept for years and never overwritten.",
    "logbook.in": "Kept in {where}.",
    "logbook.none": "Nothing is written down now.",
    "logbook.empty": "Nothing is in it yet. A survey or a trim is written down by itself.",
    "logbook.instrument": "Instrument",
    "logbook.due": "Due from {day}.",
    "logbook.years": "The years of {name}",
    "years.one": "One survey so far: the years begin with the second.",
    "years.scale": "Scale error, cents per octave",
    "years.high": "High end, cents per kHz",
    "years.reach": "Reach",
    "logbook.save": "Keep this chart as a file (SVG)",
    "logbook.since": "Since last time",
    "logbook.surveys": "Surveys, newest first",
    "logbook.diary": "Diary, newest first",
    "logbook.when": "When",
    "logbook.what": "What",
    "logbook.came": "What came of it",
    "logbook.withdrawn": "withdrawn",
    # --- the certificate
    "certificate.title": "Certificate",
    "certificate.lead": "One instrument on paper: as found, as left, how sure, on what it rests.",
    "certificate.none": "No instrument was surveyed yet.",
    "certificate.a4": "PDF, A4",
    "certificate.letter": "PDF, US letter",
    "certificate.label": "Label for the case, PDF",
    "certificate.invented": "The data are invented, and the certificate says so.",
    "certificate.label tip": "It goes where it covers no vent and no warning; power off before a"
    " module is taken out to stick it.",
    # --- recordings dropped onto the page
    "drop.title": "A recording instead",
    "drop.lead": "Drop a recording here (WAV, FLAC or AIFF), or choose a file. Every channel is"
    " heard and surveyed on this machine.",
    "drop.choose": "Choose a recording",
    "drop.heard": "{name}: {percent} % heard",
    # --- what is connected, and what cannot be done
    "refused.not at the machine": "Only the person at the machine can allow sound and voltage",
    "refused.nothing trimmed": "Nothing was trimmed that could be surveyed as left",
    "refused.nothing stopped": "Nothing was stopped that could go on",
    "refused.no number": "“{written}” is not a number ({what})",
    "refused.no number do": "Write it like 21.5, or leave it empty",
    "refused.no choice": "That was not one of the choices",
    "refused.too far": "A trimmer is not turned that far at once",
    "refused.no turn": "No turn is under way",
    "refused.no trimmer": "{oscillator} has no {trimmer}",
    "refused.by hand": "Trimmers are turned by hand here",
    "refused.not connected": "Nothing is connected yet",
    "refused.not connected do": "Wait a moment",
    "refused.another leads": "Another screen leads",
    "refused.another leads do": "Take the lead over first",
    "refused.nothing under way": "Nothing is under way",
    "refused.busy": "Something is under way",
    "refused.busy do": "Wait for its end, or stop it",
    "refused.output": "Sound and voltage on this machine's outputs are not allowed yet",
    "refused.output do": "The person at the machine allows them, on its own screen",
    "fault.internal": "Internal fault, not yours: {kind}: {words}.",
    "refused.no leader": "The curve of {leader} is not known",
    "refused.no leader do": "Survey it over this range first",
    "refused.no detune cents": "{amount} cents is no detune",
    "refused.no detune cents do": "Give up to 100 cents",
    "refused.no detune beats": "{amount} beats a second is no detune",
    "refused.no detune beats do": "Give between 0.05 and 12",
    "refused.no recording": "This is not a recording",
    "refused.no recording do": "Drop a WAV, FLAC or AIFF file",
    "refused.recordings wait": "Enough recordings wait already",
    "refused.recordings wait do": "Drop it again later",
    "refused.too large": "The recording is larger than {megabytes} MB",
    "refused.too large do": "Cut it up",
    "refused.broke off": "The recording broke off on its way",
    "refused.no sheet": "There is no such sheet.",
    "door.not paired": "This device is not paired.",
    "door.larger": "That is larger than can be taken.",
    "door.address": "This address is not served here.",
    "door.length": "That length is no number.",
    "door.elsewhere": "A page of elsewhere has no business here.",
    "door.nowhere": "Who asks must say from where.",
    "door.method": "That cannot be done here.",
    "door.too many": "Too many wrong codes. Wait a minute.",
    "door.wrong code": "That code is wrong or was used already. Look at the machine for a new one.",
    "door.title": "pitchwright: pair this device",
    "door.heading": "Pair this device",
    "door.code": "The code that the machine shows",
    "door.pair": "Pair",
    "connected.practice": "Nothing is connected: this is the practice rig, an invented instrument.",
    "connected.live": "Live: channels heard: {channels}.",
    "connected.notes by voltage": "Notes are played as voltages.",
    "connected.notes by midi": "Notes are played by MIDI.",
    "connected.notes by person": "A person plays the notes.",
    "connected.invented": "Its instrument is invented.",
    # --- times
    "now": "now",
    "minutes ago": "{minutes} min ago",
    # --- beats
    "beats.many": "{rate} beats a second",
    "beats.slow": "a beat in {seconds} s",
    "beats.none": "no beat to be heard",
    "beats.fast": "too fast to count",
}
"""What the page says, by key."""

_TICKING: Final = 15.0
_NO_BEAT_S: Final = 30.0


def say(key: str, **filled: object) -> str:
    """The text of a key, filled in."""
    text = ENGLISH[key]
    return text.format(**filled) if filled else text


def stretched(words: Mapping[str, str]) -> dict[str, str]:
    """The same texts with words half as long again: what a long language does to a screen."""
    return {key: " ".join(_longer(one) for one in text.split(" ")) for key, text in words.items()}


def plain(amount: float, digits: int = 1) -> str:
    """A number without its sign."""
    return f"{abs(amount):.{digits}f}"


def cents(amount: float, digits: int = 1) -> str:
    """A signed number: ``+1.2``, ``−0.4``, ``0.0``."""
    text = f"{amount:+.{digits}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", "−")


def count(off_cents: float, u_cents: float | None) -> str:
    """How far, in as many digits as it is worth showing from two metres."""
    if abs(off_cents) >= 99.5:
        return f"{abs(off_cents):.0f}"
    sure = u_cents is not None and u_cents < 0.05 and abs(off_cents) < 0.995
    return plain(off_cents, 2 if sure else 1)


def minutes_ago(minutes: float) -> str:
    """How long ago, in minutes."""
    return say("minutes ago", minutes=plain(minutes, 0 if minutes >= 2.0 else 1))


def first_large(words: str) -> str:
    """Words that begin with a capital."""
    return words[:1].upper() + words[1:]


def sense(off_cents: float) -> str:
    """Too sharp or too flat, in words."""
    return say("trim.sharp" if off_cents > 0.0 else "trim.flat")


def beats(rate_hz: float) -> str:
    """A beat rate in words."""
    rate = abs(rate_hz)
    if rate > _TICKING:
        return say("beats.fast")
    if rate >= 1.0:
        return say("beats.many", rate=plain(rate))
    if rate * _NO_BEAT_S < 1.0:
        return say("beats.none")
    return say("beats.slow", seconds=plain(1.0 / rate, 1 if rate > 0.1 else 0))


def _longer(word: str) -> str:
    if "{" in word or not word[:1].isalpha():
        return word
    core = word.rstrip(".,:;")
    more = core.lower()[: (len(core) + 1) // 2]
    return f"{core}{more}{word[len(core) :]}"
