/* The enable line behind its diode pump: from the pin's level to the voltage that holds the controller's enable input.
 *
 *     pin --[ R ]--| C1 |--+--|>|--+-----+---- gate of the transistor that holds the relay
 *                          |       |     |
 *                  GND --|>|      C2   load
 *
 * Two capacitors, two diodes of a constant drop, one resistor in series with the pin and one as the load, in steps of
 * 5 us (forward Euler; the fastest time constant is 35 us). It knows nothing of the firmware: a level, or a pin that
 * floats, and time. The values are the build page's, each at the end of its tolerance that lets go latest; or, when it is
 * weak, at the end that holds worst. */
#ifndef BENCH_PUMP_H
#define BENCH_PUMP_H

#include <stdbool.h>

struct bench_pump {
    double on_v;  /* above it the relay is held */
    bool weak;
    double c1_v, out_v;
};

#define PUMP_FLOATS (-1)

/* Time goes by with the pin at this level: 0, 1 (5 V), or PUMP_FLOATS. */
void bench_pump_run(struct bench_pump *pump, int level, double us);

bool bench_pump_holds(const struct bench_pump *pump);

#endif
