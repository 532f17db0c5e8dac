/* The status LED, where the board has one.
 *
 *     waiting   half a second on, half a second off; four times a second while the control that must be at zero is not
 *     running   on
 *     stopped   as many short flashes as the number of the cause (core/BLOCK.md, core/blend.h), then a pause */
#ifndef LED_H
#define LED_H

#include <stdbool.h>
#include <stdint.h>

void led_start(void);

/* Once a step. `at_zero`: while waiting, the control is where it must be. */
void led_show(uint8_t state, uint8_t cause, bool at_zero);

#endif
