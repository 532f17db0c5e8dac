/* What the hand and the wiring do: millivolts at each ADC pin over simulated time.
 *
 * A script is text, one entry a line, `#` begins a comment:
 *     T_MS PIN MV       at T_MS (not before the pin's last entry) the pin is at MV; straight lines between
 *     noise PIN SD_MV   gaussian noise on the pin, white from sample to sample, from the seed
 * Before its first entry a pin has that entry's voltage, after its last one that one's; a pin without
 * entries is at 0 mV. Two entries with the same time make a step. */
#ifndef SCRIPT_H
#define SCRIPT_H

#include <stdint.h>

#define SCRIPT_PINS 8

struct script;

/* Reads the file. On an error it says on stderr which line and why, and ends the process with 2. */
struct script *script_load(const char *path, uint64_t seed);

/* Millivolts at a pin, before any clamping to the rails. Time must not go back. */
double script_mv(struct script *script, unsigned pin, double t_ms);

#endif
