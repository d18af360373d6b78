"""From a voltmeter and a counter to what to turn: eight readings of an invented oscillator, Heron.

The figures are made up: about 2 cents per octave too wide, and falling behind at the top.
"""

from pitchwright.tracking import Point, survey_oscillator
from pitchwright.units import note_of_cv

READINGS = (  # control voltage in volts, frequency in hertz
    (0.000, 32.710),
    (1.000, 65.492),
    (2.000, 131.126),
    (3.000, 262.519),
    (4.000, 525.507),
    (5.000, 1051.66),
    (6.000, 2103.64),
    (7.000, 4205.01),
)

points = [Point(note_of_cv(cv_v), cv_v, f_hz, u_cents=0.1) for cv_v, f_hz in READINGS]
survey = survey_oscillator("Heron", points)

for sentence in (*survey.sentences(), *survey.advice):
    print(sentence)
