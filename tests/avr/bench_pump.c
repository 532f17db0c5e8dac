#include "bench_pump.h"

#define STEP_US 5.0
#define SERIES_OHM 125.0 /* 100 ohm and the pin's own */

static const struct corner {
    double high_v, drop_v, farad, load_ohm; /* both capacitors are alike; small-signal Schottky diodes at some mA */
} lets_go_latest = {5.0, 0.2, 470e-9 * 1.2, 10e3 * 1.05}, holds_worst = {4.75, 0.4, 470e-9 * 0.8, 10e3 * 0.95};

static void advance(struct bench_pump *pump, int level, double us)
{
    const struct corner *is = pump->weak ? &holds_worst : &lets_go_latest;
    double s = us * 1e-6, current = 0.0; /* from the pin into C1 */

    if (level != PUMP_FLOATS) {
        double behind = level * is->high_v - pump->c1_v; /* behind C1, were there no current */
        if (behind > pump->out_v + is->drop_v)
            current = (behind - pump->out_v - is->drop_v) / SERIES_OHM;
        else if (behind < -is->drop_v)
            current = (behind + is->drop_v) / SERIES_OHM;
    }
    pump->c1_v += current * s / is->farad;
    double into = current > 0.0 ? current : 0.0;
    pump->out_v += (into - pump->out_v / is->load_ohm) * s / is->farad;
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
