/* A 12-bit DAC on two wires: I2C in software, the same on every part, with any two pins of one port.
 *
 * Open drain: a line is pulled low or let go, never driven high; pull-ups of 2.2 to 10 kOhm to the DAC's supply. */
#ifndef DAC_H
#define DAC_H

#include <stdbool.h>
#include <stdint.h>

#define DAC_BITS 12

/* Writes a code with the two-byte fast write (0000dddd dddddddd). False when the DAC did not take it: no answer, or
 * a line that does not rise. Takes the same time whatever the code. */
bool dac_write(uint16_t code);

/* Whether the value that the DAC's own memory holds for its power-up is 0, not powered down: in *is_zero. False when
 * the DAC does not answer. */
bool dac_wakes_at_zero(bool *is_zero);

/* Writes 0 to that memory; the DAC is busy for some 50 ms afterwards. False when it did not take it. */
bool dac_store_zero(void);

#endif
