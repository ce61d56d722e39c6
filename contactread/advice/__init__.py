"""Advice: what two patterns say about pinion depth and backlash, and the next move.

advice = advise(setup, axle, history=[EarlierTry(first_setup, pinion_mm=0.10)])
advice.headline, advice.moves, advice.to_json()
"""

from contactread.advice.advise import advise
from contactread.advice.answer import Advice, Expectation, Move, ShimChange, Statement
from contactread.belief.tries import EarlierTry

__all__ = ["Advice", "EarlierTry", "Expectation", "Move", "ShimChange", "Statement", "advise"]
