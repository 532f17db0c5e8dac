# The streamer for a board that runs CircuitPython: copy it there as code.py, and pedalproof sees the board.
# It only reads and prints. Written from memory of the functions that CircuitPython documents (analogio.AnalogIn,
# time.monotonic_ns) and run against stand-ins for them, on no part yet: hold the first readings against a meter.
# What a pin may get is what the part allows, 3.3 V on most: a 5 V pedal needs a divider (pedal-hall-divider-3v3).
import time

import analogio
import board

INPUTS = (("pedal_a", "A0"), ("pedal_b", "A1"), ("dial", "A2"))  # name, pin: at most eight
RATE_HZ = 100
VREF_MV = 3300  # measure it: the 3.3 V pin against ground
BITS = 12  # what the part's ADC has; value stretches it to 16

HEADER = "# pedalproof 1 bits=%d vref_mv=%d rate_hz=%d cols=t_us,%s" % (
    BITS,
    VREF_MV,
    RATE_HZ,
    ",".join(name for name, _ in INPUTS),
)


def line(t_us, codes):
    text = ",".join(str(number) for number in [t_us] + codes)
    check = 0
    for byte in text.encode():
        check ^= byte
    return "%s*%02X" % (text, check)


def run():
    pins = [analogio.AnalogIn(getattr(board, pin)) for _, pin in INPUTS]
    step = 1000000000 // RATE_HZ
    begun = time.monotonic_ns()
    due = begun
    n = 0
    while True:
        if n % RATE_HZ == 0:
            print(HEADER)
        n += 1
        due += step
        left = due - time.monotonic_ns()
        if left > 0:
            time.sleep(left / 1000000000)
        else:
            due = time.monotonic_ns()  # too late: the stamps say so, and nothing is made up
        t_us = (time.monotonic_ns() - begun) // 1000 & 0xFFFFFFFF
        print(line(t_us, [pin.value >> (16 - BITS) for pin in pins]))


run()
