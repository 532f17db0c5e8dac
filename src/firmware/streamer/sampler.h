/* Samples at an even pace.
 *
 * Belongs here: timer 1, the ADC and the board's clock. Does not belong here: text, the serial port.
 *
 * When a channel is sampled: timer 1 starts the conversion of the first channel by hardware, so no
 * interrupt delays it: the input is held two ADC clocks (16 us at 16 MHz) after `t_us`, to the CPU cycle.
 * Every further channel is started by the interrupt that ends the one before it and begins at the next
 * edge of the ADC clock: about 112 us later, and 8 us later still when another interrupt was in the way.
 * So two tracks of one pedal are never sampled at the same moment: their columns are 0.11 ms apart. */
#ifndef SAMPLER_H
#define SAMPLER_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"

struct sample {
    uint32_t t_us; /* board's clock at the timer tick; wraps at 2^32 */
    uint16_t codes[CHANNEL_COUNT];
};

/* Starts timer and ADC. Interrupts are enabled by the caller. */
void sampler_start(void);

/* True when a sample is waiting. */
bool sampler_ready(void);

/* The waiting sample. A sample that was not taken before the next one was complete is kept, and the next
 * one is given up: its time is then missing from the stream. */
struct sample sampler_take(void);

#endif
