#include "bench_pump.h"

#define STEP_US 5.0
#define HIGH_V 5.0
#define DROP_V 0.2          /* small-signal Schottky at some mA: the least, so that most is pumped */
#define SERIES_OHM 125.0    /* 100 ohm and the pin's own */
#define PUMP_F (470e-9 * 1.2)
#define HOLD_F (470e-9 * 1.2)
#define LOAD_OHM (10e3 * 1.05)

static void advance(struct bench_pump *pump, int level, double us)
{
    double s = us * 1e-6, current = 0.0; /* from the pin into C1 */

    if (level != PUMP_FLOATS) {
        double behind = level * HIGH_V - pump->c1_v; /* behind C1, were there no current */
        if (behind > pump->out_v + DROP_V)
            current = (behind - pump->out_v - DROP_V) / SERIES_OHM;
        else if (behind < -DROP_V)
            current = (behind + DROP_V) / SERIES_OHM;
    }
    pump->c1_v += current * s / PUMP_F;
    double into = current > 0.0 ? current : 0.0;
    pump->out_v += (into - pump->out_v / LOAD_OHM) * s / HOLD_F;
}

void bench_pump_run(struct bench_pump *pump, int level, double us)
{
    for (; us > STEP_US; us -= STEP_US)
        advance(pump, level, STEP_US);
    advance(pump, level, us);
}

bool bench_pump_holds(const struct bench_pump *pump)
{
    return pump->out_v > pump->on_v;
}
