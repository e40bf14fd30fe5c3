"""The K-weighting filter of BS.1770: the ear's response, roughly, as two biquads.

The standard prints coefficients for 48 kHz and asks for the same response at every other rate. The common
rates below are least-squares fits to that response (within 0.00005 dB from 10 Hz to 20 kHz or 0.46 of the
rate); any other rate is designed from the analog filter behind the table (within 0.011 dB from 32 kHz on; 0.03 dB at
22.05 kHz, 0.3 dB at 8 kHz, around 2.5 kHz).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

LOWEST_RATE_HZ = 8000

#: rate -> (shelf b0 b1 b2 a1 a2), (high-pass gain, a1, a2); the high-pass numerator is gain * (1, -2, 1).
#: 48000: ITU-R BS.1770-5 Annex 1, Tables 1 and 2. The rest: fitted, see above.
TABLE = {
    32000: (
        (1.51083746775179, -2.46588579045324, 1.04209402705749, -1.53985642485123, 0.62690221684563),
        (0.99751647782627, -1.98508966898869, 0.98514532066955),
    ),
    44100: (
        (1.53080127774421, -2.65106683827243, 1.16913332831240, -1.66372267148479, 0.71259044737140),
        (0.99956006454251, -1.98916967362980, 0.98919903578704),
    ),
    48000: (
        (1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585),
        (1.0, -1.99004745483398, 0.99007225036621),
    ),
    88200: (
        (1.55759427725932, -2.90550876886744, 1.36121206634934, -1.83085054876472, 0.84414811518453),
        (1.00227196335738, -1.99457751545034, 0.99458487587805),
    ),
    96000: (
        (1.55979074525433, -2.92662814499690, 1.37813945978169, -1.84454680430296, 0.85584885682541),
        (1.00249278898634, -1.99501754472472, 0.99502375904092),
    ),
    176400: (
        (1.57115784319469, -3.03646489077364, 1.46877532645806, -1.91530670016266, 0.91877497622611),
        (1.00363204710421, -1.99728692242381, 0.99728876502607),
    ),
    192000: (
        (1.57226481068077, -3.04720645868110, 1.47787932258806, -1.92218304358902, 0.92512071576407),
        (1.00374267537144, -1.99750722284070, 0.99750877835551),
    ),
    352800: (
        (1.57798175219294, -3.10279816688519, 1.52570204691951, -1.95764182557328, 0.95852745704151),
        (1.00431312637905, -1.99864300176470, 0.99864346272777),
    ),
    384000: (
        (1.57853743445999, -3.10821166360568, 1.53042308032910, -1.96108307090113, 0.96183192144095),
        (1.00436849449862, -1.99875322355755, 0.99875361267864),
    ),
}

# The analog filters that the 48 kHz table implies.
SHELF_HZ, SHELF_Q, SHELF_HIGH_GAIN, SHELF_MID_GAIN = 1681.97445, 0.70717524, 1.58486470, 1.25872093
HIGH_PASS_HZ, HIGH_PASS_Q, HIGH_PASS_GAIN = 38.135471, 0.50032704, 1.00499490


def k_filter(rate_hz: int) -> npt.NDArray[np.float64]:
    """The K filter as second-order sections, shape (2, 6): shelf, then high-pass.

    rate_hz: frames per second, 8000 or more.
    Raises: ValueError below 8000 Hz.
    Source: ITU-R BS.1770-5 Annex 1, Tables 1 and 2; other rates match that response.
    """
    if rate_hz < LOWEST_RATE_HZ:
        raise ValueError(f"K-weighting needs a rate of {LOWEST_RATE_HZ} Hz or more, not {rate_hz}")
    (b0, b1, b2, a1, a2), (gain, c1, c2) = TABLE.get(rate_hz) or (_shelf(rate_hz), _high_pass(rate_hz))
    return np.array([[b0, b1, b2, 1.0, a1, a2], [gain, -2.0 * gain, gain, 1.0, c1, c2]])


def _shelf(rate_hz: int) -> tuple[float, float, float, float, float]:
    k = math.tan(math.pi * SHELF_HZ / rate_hz)
    damping, k2 = k / SHELF_Q, k * k
    a0 = 1.0 + damping + k2
    high, mid = SHELF_HIGH_GAIN, SHELF_MID_GAIN * damping
    return ((high + mid + k2) / a0, 2.0 * (k2 - high) / a0, (high - mid + k2) / a0,
            2.0 * (k2 - 1.0) / a0, (1.0 - damping + k2) / a0)  # fmt: skip


def _high_pass(rate_hz: int) -> tuple[float, float, float]:
    k = math.tan(math.pi * HIGH_PASS_HZ / rate_hz)
    damping, k2 = k / HIGH_PASS_Q, k * k
    a0 = 1.0 + damping + k2
    return HIGH_PASS_GAIN / a0, 2.0 * (k2 - 1.0) / a0, (1.0 - damping + k2) / a0
