/* What a reset leaves alone and a loss of power does not: whether the core was running, and why it had stopped. */
#ifndef MARK_H
#define MARK_H

#include <stdint.h>

#include "blend.h"

/* Before the first change of the enable line, and again in every running step. */
void mark_running(void);

void mark_stopped(uint8_t cause);

/* Why this start is a stop, from the reset's cause (MCUSR, or 0 where a bootloader has cleared it) and the mark. */
enum pp_cause mark_read(uint8_t reset_cause);

#endif
