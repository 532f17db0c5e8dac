# The streamer for a board that runs MicroPython: copy it there as main.py, and pedalproof sees the board.
# It only reads and prints. Written from memory of the functions that MicroPython documents (machine.ADC,
# time.ticks_us) and run against stand-ins for them, on no part yet: hold the first readings against a meter.
# What a pin may get is what the part allows, 3.3 V on most: a 5 V pedal needs a divider (pedal-hall-divider-3v3).
import time

from machine import ADC, Pin

INPUTS = (("pedal_a", 26), ("pedal_b", 27), ("dial", 28))  # name, pin: at most eight
RATE_HZ = 250
VREF_MV = 3300  # measure it: the 3.3 V pin against ground
BITS = 12  # what the part's ADC has; read_u16 stretches it to 16

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
    adcs = [ADC(Pin(pin)) for _, pin in INPUTS]
    step = 1000000 // RATE_HZ
    t_us = 0
    last = time.ticks_us()
    due = last
    n = 0
    while True:
        if n % RATE_HZ == 0:
            print(HEADER)
        n += 1
        due = time.ticks_add(due, step)
        left = time.ticks_diff(due, time.ticks_us())
        if left > 0:
            time.sleep_us(left)
        else:
            due = time.ticks_us()  # too late: the stamps say so, and nothing is made up
        now = time.ticks_us()
        # Ticks wrap earlier than the stream's microseconds do.
        t_us = (t_us + time.ticks_diff(now, last)) & 0xFFFFFFFF
        last = now
        print(line(t_us, [adc.read_u16() >> (16 - BITS) for adc in adcs]))


run()
