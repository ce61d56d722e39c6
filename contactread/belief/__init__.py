"""What is believed of one axle: the one answer that advice, forecasts, practice and the report share.

    belief = believe(axle, setup, history=[EarlierTry(first_setup, pinion_mm=0.10)])
    forecast = belief.forecast(pinion_mm=-0.05, ring_mm=0.0)     # from where the gears stand now
    forecast = foresee(axle, start, end)                         # nothing read: from a known place

The gear set is drawn many times (`draws`): what the axle file leaves out from its estimate and spread. The
photos' sizes correct each draw, their places and the dial say where its gears stand (`linear`), and the mesh
of the likeliest draws says what a move will do (`forecast`).
"""

from contactread.belief.believe import Belief, believe
from contactread.belief.forecast import Forecast, foresee
from contactread.belief.outlook import Outlook
from contactread.belief.tries import EarlierTry, Seen

__all__ = ["Belief", "EarlierTry", "Forecast", "Outlook", "Seen", "believe", "foresee"]
